"""What a request works on: the open notebook with its search, and how saves are recorded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any, cast

from flask import current_app, flash, has_request_context, request

from kb.notebook import Notebook
from kb.notes.case import CaseNote
from kb.notes.family import FamilyNote
from kb.storage import writing
from kb.storage.git_history import commit_note
from kb.storage.merging import Change, merge_causes
from search.bench import Bench
from web.server.measuring import Measuring
from web.views.family_state import family_address


@dataclass(frozen=True, kw_only=True)
class Desk:
    """The application's own things, one for each app.

    measuring: how good the answers are, worked out aside.
    git: record each save as a commit of the notebook's repository.
    """

    bench: Bench
    measuring: Measuring
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
        path = self.notebook.case_path(saved.case)
        self._follow(
            [path] if path else [], tech=saved.tech, message=f"Write up {saved.case}: {saved.root_cause}"
        )
        return saved

    def revise(
        self, path: str, changes: Mapping[str, Any], *, body: str | None, expect: str, tech: str = ""
    ) -> None:
        """Change fields and perhaps the body of a case or family note, if it is still as `expect` says."""
        writing.revise_note(self.notebook, path, changes, body=body, expect=expect)
        self._follow([path], tech=tech, message=f"Revise {PurePosixPath(path).stem}")

    def revise_text(self, path: str, text: str, *, expect: str) -> None:
        """Put another whole text in a note's place, if it is still as `expect` says."""
        writing.revise_text(self.notebook, path, text, expect=expect)
        self._follow([path], message=f"Mend {PurePosixPath(path).stem}")

    def save_family(self, note: FamilyNote) -> None:
        """Save a new family note."""
        path = writing.save_family(self.notebook, note)
        self._follow([path], message=f"Add the family {note.chassis_family}")

    def remove(self, case_id: str) -> str:
        """Move a case out of the notebook and return by which name it can be brought back."""
        path = self.notebook.case_path(case_id)
        removed_id = writing.remove_case(self.notebook, case_id)
        self._follow([path] if path else [], message=f"Take {case_id} out")
        return removed_id

    def restore(self, removed_id: str) -> str:
        """Bring a removed case back and return its number."""
        case_id = writing.restore_case(self.notebook, removed_id)
        path = self.notebook.case_path(case_id)
        self._follow([path] if path else [], message=f"Put {case_id} back")
        return case_id

    def merge(
        self, from_causes: Sequence[str], into: str, *, dry_run: bool, paths: Sequence[str]
    ) -> list[Change]:
        """Give several spellings of one cause one name in the notes at `paths`; see kb.merging."""
        changes = merge_causes(self.notebook, from_causes, into, dry_run=dry_run, paths=paths)
        if changes and not dry_run:
            self._follow([change.file for change in changes], message=f"Call it {into} everywhere")
        return changes

    def _follow(self, paths: Sequence[str], *, message: str, tech: str = "") -> None:
        """Make what was written searchable, and record it in git when that is asked for."""
        self.bench.refresh(only=paths)
        if not self.git:
            return
        warning = commit_note(self.notebook, paths, tech=tech, message=message)
        if warning:
            current_app.logger.warning("%s", warning)
            if has_request_context() and not request.path.startswith("/api/"):
                flash(warning)

    def family_address(self, name: str) -> str:
        """Return the address of a family's page."""
        return family_address(name)


def desk() -> Desk:
    """Return the desk of the application that answers this request."""
    return cast(Desk, current_app.extensions["desk"])
