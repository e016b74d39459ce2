"""Options that several commands share, and how commands open the notebook."""

import contextlib
import hashlib
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar

import click
from platformdirs import user_data_path

from kb.files import cache_folder
from kb.notebook import DEMO, Notebook, open_demo
from kb.storage.git_history import why_no_history

FILE = click.Path(path_type=Path, dir_okay=False)
Command = TypeVar("Command", bound=Callable[..., Any])

git_option = click.option(  # for commands that save notes
    "--git", is_flag=True, help="Record each save as a commit of the notebook's repository."
)


def notebook_options(command: Command) -> Command:
    """Add --notebook and --demo to a command."""
    command = click.option("--demo", is_flag=True, help="Use a temporary copy of the demo notebook.")(command)
    return click.option(
        "--notebook", type=click.Path(path_type=Path, file_okay=False), envvar="BENCHLORE_NOTEBOOK",
        show_envvar=True, help="The notebook's folder.  [default: the user's data folder]",
    )(command)  # fmt: skip


def open_notebook(notebook: Path | None, *, demo: bool, to_read: bool = False, git: bool = False) -> Notebook:
    """Open the notebook that the options name; the user's own is made if it is missing.

    to_read: nothing will be written, so one copy of the demo serves many commands. git: check that git can
    record saves. Raises: NotebookError.
    """
    if demo:
        opened = open_lasting_demo() if to_read else open_demo()
    else:
        if notebook is None:
            notebook = user_data_path("benchlore", appauthor=False) / "notebook"
            (notebook / "cases").mkdir(parents=True, exist_ok=True)
            (notebook / "families").mkdir(exist_ok=True)
        opened = Notebook(notebook)
    if git and (trouble := why_no_history(opened)):
        raise click.ClickException(trouble)
    return opened


def open_lasting_demo() -> Notebook:
    """Open a cached copy of this version of the demo with its index, so that the next command starts fast."""
    digest = hashlib.sha256()
    for path in sorted(DEMO.rglob("*.*")):
        if path.suffix in (".md", ".toml"):
            digest.update(f"{path.relative_to(DEMO)}\0".encode() + path.read_bytes())
    try:
        folder = cache_folder() / f"demo-{digest.hexdigest()[:16]}"
        if not folder.is_dir():
            folder.parent.mkdir(parents=True, exist_ok=True)
            fresh = open_demo(folder.parent).root
            with contextlib.suppress(OSError):  # if two make it at once, the second uses the first one's
                fresh.rename(folder)
            shutil.rmtree(fresh, ignore_errors=True)
        return Notebook(folder)
    except OSError:
        return open_demo()


@contextlib.contextmanager
def progress_bars(*, quiet: bool = False) -> Iterator[Callable[[str, int, int], None]]:
    """Show progress bars on standard error, if that is a terminal: call this with (what, done, in all)."""
    hidden = quiet or not sys.stderr.isatty()
    bar: Any = None
    with contextlib.ExitStack() as stack:

        def move(what: str, done: int, total: int) -> None:
            nonlocal bar
            if bar is None or what != bar.label:
                stack.pop_all().close()
                shown = click.progressbar(length=1, label=what, file=sys.stderr, hidden=hidden)
                bar = stack.enter_context(shown)
            bar.length = max(total, 1)
            bar.update(done - bar.pos)

        yield move
