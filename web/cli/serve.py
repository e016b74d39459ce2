"""`benchlore serve` and `benchlore passphrase`: the pages, and who in the shop may write."""

import contextlib
import ctypes
import gc
import socket
import sys
import threading
import webbrowser
from collections.abc import Iterable
from pathlib import Path

import click
import segno
from flask import Flask

from kb.files import read_private
from search.bench import Bench
from search.index.postings import USUAL_CACHE_MB
from web.app import LARGEST_FORMS, create_app
from web.cli.options import git_option, notebook_options, open_notebook, progress_bars
from web.server.access import SHORTEST, Access, keep_hash, passphrase_file
from web.server.listening import listen
from web.server.security import is_this_computer
from web.views.state import family_address

_ARENA_MAX = -8  # glibc's malloc.h: M_ARENA_MAX


def share_one_heap() -> None:
    """Make all threads share one heap; call it before any is started. Only glibc has this setting.

    With a heap for each thread, what one frees lies idle while another asks the system for more.
    """
    if sys.platform == "linux":
        with contextlib.suppress(AttributeError):  # not glibc
            ctypes.CDLL(None).mallopt(_ARENA_MAX, 1)


def ready_for_threads() -> None:
    """Set up the process for many threads that answer while one learns; call it before any is started."""
    share_one_heap()
    sys.setswitchinterval(0.003)  # so long an answer waits whenever the learning thread has the interpreter


def address(host: str, port: int) -> str:
    """Return the address to open in a browser on this computer."""
    named = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)
    return f"http://[{named}]:{port}/" if ":" in named else f"http://{named}:{port}/"


def shop_address(host: str, port: int) -> str:
    """Return the address at which the shop's network reaches a server that listens on `host`."""
    if host not in ("0.0.0.0", "::"):
        return address(host, port)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Nothing is sent: the system only tells which of its addresses it would use (RFC 5737,
            # TEST-NET-1).
            probe.connect(("192.0.2.1", 9))
            return f"http://{probe.getsockname()[0]}:{port}/"
        except OSError:
            return f"http://{socket.gethostname()}:{port}/"


def tell_the_shop(app: Flask, where: str) -> None:
    """Show the address for other computers, as a QR code for telephones where there is a terminal."""
    app.config["SHOP_ADDRESS"] = where
    if sys.stdout.isatty():
        segno.make(where, error="m").terminal(compact=True)
    click.echo(f"On the shop's network: {where}")
    if not read_private(passphrase_file()):
        click.echo("Other computers can read. Before they may write: benchlore passphrase")


def warm_up(app: Flask, families: Iterable[str]) -> None:
    """Ask for a page of each kind, so that templates and libraries are loaded before anybody waits."""
    for path in ("/?q=dead", *map(family_address, families)):
        app.test_client().get(path)
    gc.freeze()  # what is there now stays; collecting garbage in a large notebook takes 0.1 s each time


def show_page(page: str) -> None:
    """Open the page in the user's browser, or say that there is none."""
    if not webbrowser.open(page):
        click.echo(f"No browser could be opened here; open {page} in one.", err=True)


@click.command()
@notebook_options
@click.option("--host", default="127.0.0.1", show_default=True, help="0.0.0.0 for the whole local network.")
@click.option(
    "--port", default=8571, show_default=True, type=click.IntRange(0, 65535), help="0: any free one."
)
@click.option("--open", "open_page", is_flag=True, help="Open the page in the browser.")
@click.option(
    "--cache-mb", default=USUAL_CACHE_MB, show_default=True, type=click.IntRange(1, 100_000),
    help="Most memory for lists and scores kept between answers, in MB.",
)  # fmt: skip
@git_option
@click.option("--private", is_flag=True, help="Ask other computers for the passphrase before they read, too.")
def serve(
    notebook: Path | None, demo: bool, *, host: str, port: int, open_page: bool, git: bool, private: bool,
    cache_mb: int,
) -> None:  # fmt: skip
    """Serve the pages to this bench, or to the whole shop.

    Notes that are added, changed or removed in an editor meanwhile are taken in.
    """
    ready_for_threads()
    opened = open_notebook(notebook, demo=demo, git=git)
    local = is_this_computer(host)
    with progress_bars() as progress:
        bench = Bench(opened, progress=progress, learn_beside=True, cache_mb=cache_mb)
        bench.causes  # noqa: B018  # starts learning, so that the first page need not wait
    name = socket.gethostname()
    names = () if local else (name, f"{name}.local", f"{name}.lan", socket.getfqdn(name))
    access = Access(read_private(passphrase_file()), private=private)
    app = create_app(bench, host_names=names, git=git, access=access)
    try:
        server = listen(app, host=host, port=port, largest_request=max(LARGEST_FORMS.values()))
    except OSError as error:
        raise click.ClickException(
            f"cannot listen on {host}:{port}: {error.strerror or error}; choose another with --port"
        ) from error
    threading.Thread(target=warm_up, args=(app, list(opened.families())[:1]), daemon=True).start()
    # A name may have stood for several addresses.
    bound = server.effective_listen[0][1] if hasattr(server, "effective_listen") else server.effective_port
    page = address(host, int(bound))
    click.echo(f"benchlore serves {opened.root} at {page} (Ctrl-C ends it)")
    if not local:
        tell_the_shop(app, shop_address(host, int(bound)))
    if open_page:
        threading.Timer(0.3, show_page, [page]).start()
    try:
        server.run()
    finally:
        server.close()


@click.command()
@click.option("--remove", is_flag=True, help="Take it away: only this computer may write then.")
def passphrase(remove: bool) -> None:
    """Set the passphrase with which other computers may write.

    It is kept as a hash in this user's settings, not in the notebook. Restart a running server after a
    change.
    """
    path, typed = passphrase_file(), ""
    if not remove:
        typed = click.prompt("Passphrase", hide_input=True, confirmation_prompt=True)
    if len(typed) < SHORTEST and not remove:
        raise click.ClickException(f"too short; use at least {SHORTEST} characters, such as four words")
    try:
        keep_hash(path, typed)
    except OSError as error:
        raise click.ClickException(f"{path}: {error.strerror}; make it writable") from error
    click.echo("Only this computer may write now." if remove else f"Kept as a hash in {path}.")
