"""What a request works on: the open notebook, its answers, and the service that saves notes."""

from typing import cast

from flask import current_app, flash, request

from search.bench import Bench
from web.server.measuring import Measuring
from web.server.note_service import NoteService


class Desk:
    """The application's own things, one for each app. measuring: how good the answers are."""

    def __init__(self, bench: Bench, *, git: bool) -> None:
        """git: record each save as a commit of the notebook's repository."""
        self.bench, self.notebook, self.measuring = bench, bench.notebook, Measuring(bench)
        self.notes = NoteService(
            bench.notebook, git=git, warn=_warn, refresh=lambda paths: bench.refresh(only=paths)
        )


def _warn(warning: str) -> None:
    current_app.logger.warning("%s", warning)
    if not request.path.startswith("/api/"):
        flash(warning)


def desk() -> Desk:
    """Return the desk of the application that answers this request."""
    return cast(Desk, current_app.extensions["desk"])
