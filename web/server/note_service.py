"""Save notes: written to disk, searchable at once, and recorded in git where that is asked for."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any

from kb.errors import say_count
from kb.exchange.rows import Plan, Progress
from kb.exchange.transfer import ImportReport, import_table
from kb.notebook import Notebook
from kb.notes.case import CaseNote
from kb.notes.family import FamilyNote
from kb.notes.models import with_family
from kb.storage import pictures, writing
from kb.storage.git_history import commit_note
from kb.storage.writing import Change, merge_causes

Refresh = Callable[[Sequence[str]], object]


class NoteService:
    """Save, revise and remove the notes of one notebook, for pages, JSON and command line alike."""

    def __init__(
        self, notebook: Notebook, *, git: bool, warn: Callable[[str], None], refresh: Refresh | None = None
    ) -> None:
        """Take the open notebook. git: record each save as a commit of the notebook's repository.

        warn: told in one sentence when a commit failed. refresh: makes the notes at some paths searchable.
        """
        self.notebook, self.git = notebook, git
        self._warn, self._refresh = warn, refresh

    def read_new(self, fields: Mapping[str, Any]) -> CaseNote:
        """Build a new case, with family, device and make from the family's note. Raises: NoteError."""
        return CaseNote.from_fields(with_family(fields, list(self.notebook.families().values())))

    def save_new(self, note: CaseNote, *, once: str = "") -> CaseNote:
        """Save a new case and return it with its number; once: see writing.save_new_case."""
        saved = writing.save_new_case(self.notebook, note, once=once)
        message = f"Write up {saved.case}: {saved.root_cause}"
        self._follow(self._paths_of(saved.case), tech=saved.tech, message=message)
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
        paths = [writing.save_family(self.notebook, note)]
        self._follow(paths, message=f"Add the family {note.chassis_family}")

    def remove(self, case_id: str) -> str:
        """Move a case out of the notebook and return the name that restore() asks for."""
        paths = self._paths_of(case_id)
        removed_id = writing.remove_case(self.notebook, case_id)
        self._follow(paths, message=f"Take {case_id} out")
        return removed_id

    def restore(self, removed_id: str) -> str:
        """Bring a removed case back and return its number."""
        case_id = writing.restore_case(self.notebook, removed_id)
        self._follow(self._paths_of(case_id), message=f"Put {case_id} back")
        return case_id

    def _paths_of(self, case_id: str) -> list[str]:
        path = self.notebook.case_path(case_id)
        return [*([path] if path else []), *pictures.picture_paths(self.notebook, case_id)]

    def add_pictures(
        self, case_id: str, files: Sequence[tuple[str, bytes]], *, caption: str, keep_original: bool
    ) -> None:
        """Add photographs to a case."""
        paths = pictures.add_pictures(
            self.notebook, case_id, files, caption=caption, keep_original=keep_original
        )
        self._follow(paths, message=f"Add {len(files)} photographs to {case_id}")

    def remove_picture(self, case_id: str, name: str) -> None:
        """Move one photograph of a case aside."""
        paths = pictures.remove_picture(self.notebook, case_id, name)
        self._follow(paths, message=f"Take a photograph out of {case_id}")

    def merge(
        self, from_causes: Sequence[str], into: str, *, dry_run: bool, paths: Sequence[str]
    ) -> list[Change]:
        """Give several spellings of one cause one name in the notes at `paths`; see merge_causes."""
        changes = merge_causes(self.notebook, from_causes, into, dry_run=dry_run, paths=paths)
        if changes and not dry_run:
            self._follow([change.file for change in changes], message=f"Call it {into} everywhere")
        return changes

    def import_table(
        self, path: Path, plan: Plan, *, dry_run: bool = False, rejects: Path | None = None,
        progress: Progress | None = None,
    ) -> ImportReport:  # fmt: skip
        """Import a table; see kb.exchange.transfer.import_table."""
        report = import_table(self.notebook, path, plan, dry_run=dry_run, rejects=rejects, progress=progress)
        if report.paths:
            cases = say_count(report.imported, "case")
            self._follow(report.paths, message=f"Import {cases} from {path.name}")
        return report

    def _follow(self, paths: Sequence[str], *, message: str, tech: str = "") -> None:
        if self._refresh is not None:
            self._refresh(paths)
        if self.git and (warning := commit_note(self.notebook, paths, tech=tech, message=message)):
            self._warn(warning)
