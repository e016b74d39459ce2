"""Save notes: write them, make them searchable at once, and record them in git if asked to."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any

from kb.errors import say_count
from kb.exchange.rows import Plan, Progress
from kb.exchange.transfer import ImportReport, import_table
from kb.notebook import Notebook
from kb.notes.case import CaseNote
from kb.notes.models import with_family
from kb.storage import writing
from kb.storage.git_history import commit_note
from kb.storage.pictures import picture_paths

Refresh = Callable[[Sequence[str]], object]


class NoteService:
    """Saves and revises notes for pages, JSON and command line. Call follow() after any other write."""

    def __init__(
        self, notebook: Notebook, *, git: bool, warn: Callable[[str], None], refresh: Refresh | None = None
    ) -> None:
        """Take the open notebook. git: record each save as a commit of the notebook's repository.

        warn: called with a sentence when a commit fails. refresh: makes the notes at some paths searchable.
        """
        self.notebook, self.git = notebook, git
        self._warn, self._refresh = warn, refresh

    def read_new(self, fields: Mapping[str, Any]) -> CaseNote:
        """Make a new case, with family, device and make from the family's note. Raises: NoteError."""
        return CaseNote.from_fields(with_family(fields, list(self.notebook.families().values())))

    def save_new(self, note: CaseNote, *, once: str = "") -> CaseNote:
        """Save a new case and return it with its number; once: see writing.save_new_case."""
        saved = writing.save_new_case(self.notebook, note, once=once)
        message = f"Write up {saved.case}: {saved.root_cause}"
        self.follow(self.paths_of(saved.case), tech=saved.tech, message=message)
        return saved

    def revise(
        self, path: str, changes: Mapping[str, Any], *, body: str | None, expect: str, tech: str = ""
    ) -> None:
        """Change fields, and the body unless None, of a case or family note. Raises: as revise_note()."""
        writing.revise_note(self.notebook, path, changes, body=body, expect=expect)
        self.follow([path], tech=tech, message=f"Revise {PurePosixPath(path).stem}")

    def import_table(
        self, path: Path, plan: Plan, *, dry_run: bool = False, rejects: Path | None = None,
        progress: Progress | None = None,
    ) -> ImportReport:  # fmt: skip
        """Import a table; see kb.exchange.transfer.import_table."""
        report = import_table(self.notebook, path, plan, dry_run=dry_run, rejects=rejects, progress=progress)
        if report.paths:
            cases = say_count(report.imported, "case")
            self.follow(report.paths, message=f"Import {cases} from {path.name}")
        return report

    def paths_of(self, case_id: str) -> list[str]:
        """Return the paths of the note and the photographs of a case within the notebook."""
        path = self.notebook.case_path(case_id)
        return [*([path] if path else []), *picture_paths(self.notebook, case_id)]

    def follow(self, paths: Sequence[str], *, message: str, tech: str = "") -> None:
        """Make what was just written or removed known to searches, and to git if asked to."""
        if self._refresh is not None:
            self._refresh(paths)
        if self.git and (warning := commit_note(self.notebook, paths, tech=tech, message=message)):
            self._warn(warning)
