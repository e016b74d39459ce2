"""Give several spellings of one root cause one name, in every note that has them."""

import contextlib
from collections.abc import Iterable
from typing import NamedTuple

from kb.errors import NoteError
from kb.notebook import CASES, Notebook
from kb.notes.case import CaseNote
from kb.notes.frontmatter import decode_note, split
from kb.storage.writing import ChangedOnDisk, digest, revise_note

# Chosen by us: a note that another bench saves more often than this in one moment is left for later.
_ATTEMPTS = 5


class Change(NamedTuple):
    """Say what a note's root cause is and what it would become."""

    file: str  # path within the notebook
    line: int  # 1-based
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: root_cause: {self.before} -> {self.after}"


def merge_causes(
    nb: Notebook, from_causes: Iterable[str], into: str, *, dry_run: bool, paths: Iterable[str] | None = None
) -> list[Change]:
    """Rewrite the root cause of every case that has one of the given spellings, and return the changes.

    Capitals and blanks do not matter in comparing. Notes are saved one by one, each whole; a bad one is left
    out, and merging again goes on where it was stopped. dry_run: write nothing. paths: notes to look at, None
    for all cases. Raises: WriteError, after which the other notes are as they were.
    """
    wanted = " ".join(into.split())
    spellings = {_fold(cause) for cause in from_causes}
    if not wanted or not spellings:
        return []
    changes: list[Change] = []
    for relpath in nb.scan() if paths is None else paths:
        if relpath.startswith(f"{CASES}/"):
            with contextlib.suppress(NoteError):
                changes += _merge_one(nb, relpath, spellings, wanted, dry_run=dry_run)
    return changes


def _merge_one(nb: Notebook, relpath: str, spellings: set[str], into: str, *, dry_run: bool) -> list[Change]:
    for _ in range(_ATTEMPTS):
        data = nb.read_bytes(relpath)
        text = decode_note(data, file=relpath)
        said = CaseNote.parse(text, file=relpath).root_cause
        if said == into or _fold(said) not in spellings:
            break
        with contextlib.suppress(ChangedOnDisk):
            if not dry_run:
                revise_note(nb, relpath, {"root_cause": into}, body=None, expect=digest(data))
            line = split(text, file=relpath).entries["root_cause"].line
            return [Change(file=relpath, line=line, before=" ".join(said.split()), after=into)]
    return []


def _fold(text: str) -> str:
    return " ".join(text.split()).casefold()
