"""What a request works on: the open notebook with its search, and how saves are recorded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from flask import current_app
from kb.notebook import Notebook
from search.bench import Bench


@dataclass(frozen=True, kw_only=True)
class Desk:
    """The application's own things, one for each app.

    git: record each save as a commit of the notebook's repository.
    """

    bench: Bench
    git: bool = False

    @property
    def notebook(self) -> Notebook:
        """Return the notebook that the bench searches."""
        return self.bench.notebook

    def follow_notes(self) -> None:
        """Take in notes that were added, changed or removed in an editor since the last request."""
        self.bench.refresh()


def desk() -> Desk:
    """Return the desk of the application that answers this request."""
    return cast(Desk, current_app.extensions["desk"])
