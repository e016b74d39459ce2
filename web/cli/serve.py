"""`benchlore serve`: the pages, for this bench or for the whole shop."""

from __future__ import annotations

import ipaddress
import socket
import threading
import webbrowser
from pathlib import Path
from typing import Any

import click
import waitress

from search.bench import Bench
from web.app import LARGEST_REQUEST, create_app
from web.cli.options import ProgressLines, notebook_options, open_notebook, require_repository


def is_loopback(host: str) -> bool:
    """Tell whether only this computer can reach a server on `host`."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def own_names() -> tuple[str, ...]:
    """Return the names by which the other benches may call this computer."""
    name = socket.gethostname()
    return (name, f"{name}.local", f"{name}.lan", socket.getfqdn(name))


def address(host: str, port: int) -> str:
    """Return the address to open in a browser on this computer."""
    named = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)
    return f"http://[{named}]:{port}/" if ":" in named else f"http://{named}:{port}/"


def port_of(server: Any) -> int:
    """Return the port a waitress server listens on; a name may have stood for several addresses."""
    several = getattr(server, "effective_listen", None)
    return int(several[0][1] if several else server.effective_port)


@click.command(short_help="Serve the pages to this bench, or to the whole shop.")
@notebook_options
@click.option("--host", default="127.0.0.1", show_default=True, help="0.0.0.0 for the whole local network.")
@click.option(
    "--port", default=8571, show_default=True, type=click.IntRange(0, 65535), help="0: any free one."
)
@click.option("--threads", default=8, show_default=True, type=click.IntRange(1, 64), help="Requests at once.")
@click.option("--open", "open_page", is_flag=True, help="Open the page in the browser.")
@click.option("--git", is_flag=True, help="Record each save as a commit of the notebook's repository.")
def serve(
    notebook: Path | None, demo: bool, *, host: str, port: int, threads: int, open_page: bool, git: bool
) -> None:
    """Serve the pages to this bench, or to the whole shop.

    Notes that are added, changed or removed in an editor meanwhile are taken in.
    """
    opened = open_notebook(notebook, demo=demo)
    if git:
        require_repository(opened)
    local = is_loopback(host)
    with ProgressLines() as progress:
        bench = Bench(opened, progress=progress)
        bench.holdings()  # the first page should not have to wait for the index
    app = create_app(bench, loopback_only=local, host_names=() if local else own_names(), git=git)
    try:
        server = waitress.create_server(
            app,
            host=host,
            port=port,
            threads=threads,
            ident="benchlore",
            # Taken in before the application sees it, up to a gigabyte unless said here; somewhat more than
            # the application takes, so that it is mostly the application that says no.
            max_request_body_size=8 * LARGEST_REQUEST,
        )
    except OSError as error:
        raise click.ClickException(
            f"cannot listen on {host}:{port}: {error.strerror or error}; choose another with --port"
        ) from error
    page = address(host, port_of(server))
    click.echo(f"benchlore serves {opened.root} at {page} (Ctrl-C ends it)")
    if open_page:
        threading.Timer(0.3, webbrowser.open, [page]).start()
    try:
        server.run()
    finally:
        server.close()
