"""What a request works on: the open notebook with its search, and how saves are recorded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from flask import current_app, url_for

from kb import writing
from kb.case import CaseNote
from kb.family import FamilyNote
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

    def save_new(self, note: CaseNote) -> CaseNote:
        """Save a new case; it is searchable when this returns."""
        saved = writing.save_new_case(self.notebook, note)
        self.bench.refresh()
        return saved

    def revise(self, path: str, changes: Mapping[str, Any], *, body: str | None, expect: str) -> None:
        """Change fields and perhaps the body of a case or family note, if it is still as `expect` says."""
        writing.revise_note(self.notebook, path, changes, body=body, expect=expect)
        self.bench.refresh()

    def revise_text(self, path: str, text: str, *, expect: str) -> None:
        """Put another whole text in a note's place, if it is still as `expect` says."""
        writing.revise_text(self.notebook, path, text, expect=expect)
        self.bench.refresh()

    def save_family(self, note: FamilyNote) -> None:
        """Save a new family note."""
        writing.save_family(self.notebook, note)
        self.bench.refresh()

    def remove(self, case_id: str) -> str:
        """Move a case out of the notebook and return by which name it can be brought back."""
        removed_id = writing.remove_case(self.notebook, case_id)
        self.bench.refresh()
        return removed_id

    def restore(self, removed_id: str) -> str:
        """Bring a removed case back and return its number."""
        case_id = writing.restore_case(self.notebook, removed_id)
        self.bench.refresh()
        return case_id

    def family_address(self, name: str) -> str:
        """Return the address of a family's page."""
        return url_for("family_pages.families") + f"#{name}"


def desk() -> Desk:
    """Return the desk of the application that answers this request."""
    return cast(Desk, current_app.extensions["desk"])
