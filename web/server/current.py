"""What a request works on: the open notebook, its answers, and the service that saves notes."""

from dataclasses import dataclass
from functools import cached_property
from typing import cast

from flask import current_app, flash, request

from kb.notebook import Notebook
from search.bench import Bench
from web.server.measuring import Measuring
from web.server.note_service import NoteService


@dataclass(frozen=True, kw_only=True)
class Desk:
    """The application's own things, one for each app."""

    bench: Bench
    measuring: Measuring  # how good the answers are
    git: bool = False  # record each save as a commit of the notebook's repository

    @property
    def notebook(self) -> Notebook:
        """Return the notebook that the bench searches."""
        return self.bench.notebook

    @cached_property
    def notes(self) -> NoteService:
        """Return the service that saves notes."""
        return NoteService(
            self.notebook, git=self.git, warn=_warn, refresh=lambda paths: self.bench.refresh(only=paths)
        )


def _warn(warning: str) -> None:
    current_app.logger.warning("%s", warning)
    if not request.path.startswith("/api/"):
        flash(warning)


def desk() -> Desk:
    """Return the desk of the application that answers this request."""
    return cast(Desk, current_app.extensions["desk"])
