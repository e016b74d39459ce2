"""The options that several commands share, and how they find the notebook."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click
from platformdirs import user_data_path

from kb.notebook import Notebook, open_demo

Command = TypeVar("Command", bound=Callable[..., Any])


def notebook_options(command: Command) -> Command:
    """Add --notebook and --demo to a command."""
    command = click.option("--demo", is_flag=True, help="Use a temporary copy of the demo notebook.")(command)
    return click.option(
        "--notebook",
        type=click.Path(path_type=Path, file_okay=False),
        envvar="BENCHLORE_NOTEBOOK",
        show_envvar=True,
        help="The notebook's folder.  [default: the user's data folder]",
    )(command)


def default_folder() -> Path:
    """Return where the notebook is when nobody says."""
    return Path(user_data_path("benchlore", appauthor=False)) / "notebook"


def open_notebook(notebook: Path | None, *, demo: bool) -> Notebook:
    """Open the notebook that the options name; the user's own is made when it is not there yet.

    Raises: NotebookError when a named folder is missing or is not one.
    """
    if demo:
        return open_demo()
    if notebook is None:
        notebook = default_folder()
        (notebook / "cases").mkdir(parents=True, exist_ok=True)
        (notebook / "families").mkdir(exist_ok=True)
    return Notebook(notebook)
