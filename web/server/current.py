"""What a request works on: the open notebook, its answers, and the service that saves notes."""

from dataclasses import dataclass
from typing import cast

from flask import current_app, flash, request

from kb.notebook import Notebook
from search.bench import Bench
from web.server.measuring import Measuring
from web.server.note_service import NoteService


@dataclass(frozen=True, kw_only=True)
class Desk:
    """The application's own things, one for each app. measuring: how good the answers are."""

    bench: Bench
    notebook: Notebook
    notes: NoteService
    measuring: Measuring


def open_desk(bench: Bench, *, git: bool) -> Desk:
    """Return the desk of an app; git: record each save as a commit of the notebook's repository."""
    notebook = bench.notebook
    notes = NoteService(notebook, git=git, warn=_warn, refresh=lambda paths: bench.refresh(only=paths))
    return Desk(bench=bench, notebook=notebook, notes=notes, measuring=Measuring(bench))


def _warn(warning: str) -> None:
    current_app.logger.warning("%s", warning)
    if not request.path.startswith("/api/"):
        flash(warning)


def desk() -> Desk:
    """Return the desk of the application that answers this request."""
    return cast(Desk, current_app.extensions["desk"])
