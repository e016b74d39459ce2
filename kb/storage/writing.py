"""Save, revise, merge and remove notes without ever losing one.

A write-up may be sent twice, so each form carries a random key. `.benchlore/sent/KEY` holds the case number
drawn for it and a digest of what was typed. The same text under that key is the same case.
The file is written before the note: after a crash, sending the form again completes the case.
"""

import contextlib
import hashlib
import os
import re
from collections.abc import Iterable, Mapping
from itertools import chain, count
from pathlib import Path
from typing import Any, NamedTuple

from kb.errors import BenchloreError, NoteError, quoted
from kb.files import read_private
from kb.notebook import CASES, FAMILIES, PICTURES, Notebook
from kb.notes.case import CaseNote, is_case_id, new_case_id
from kb.notes.family import FamilyNote
from kb.notes.fields import tidy_body
from kb.notes.frontmatter import decode_note, split
from kb.notes.note import Note
from kb.storage import saving
from kb.storage.editing import edit_fields, replace_body
from kb.storage.pictures import picture_paths
from kb.storage.saving import WriteError
from kb.terms import fold

MOST_KEPT = 1_000  # keys: months of write-ups, lest the folder grow for ever; chosen by us (test_sent)
_KEY = re.compile(r"[0-9A-Za-z_-]{16,64}")


class ChangedOnDisk(BenchloreError):  # noqa: N818 - it says what happened, and a page tells it so
    """The note at `relpath` has changed since it was opened. current_text: "" when it is gone."""

    def __init__(self, relpath: str, current_text: str) -> None:
        self.relpath, self.current_text = relpath, current_text
        what = "was changed on disk meanwhile" if current_text else "was removed meanwhile"
        super().__init__(f"{relpath}: {what}; look at both versions and save again")


class Change(NamedTuple):
    """Hold what a note's root cause is and what it becomes."""

    file: str  # path within the notebook
    line: int  # 1-based
    before: str
    after: str


def kind_of(relpath: str) -> type[Note]:
    """Return the kind of note that a path within the notebook holds."""
    return FamilyNote if relpath.startswith(f"{FAMILIES}/") else CaseNote


def digest(data: bytes) -> str:
    """Return the SHA-256 digest of a note in hexadecimal digits: it tells one state from another."""
    return hashlib.sha256(data).hexdigest()


def save_new_case(nb: Notebook, note: CaseNote, *, once: str = "") -> CaseNote:
    """Write a new note and return it with its case number; it is then safe on the disk.

    A note without a number gets one that no case has, nor a removed one. once: the form's key; the same note
    sent again under it is the same case. Raises: WriteError; NoteError when the note's own number is taken.
    """
    with saving.locked(nb):
        drawn = "" if note.case else case_sent(nb, once, note)
        if drawn:
            note = note.model_copy(update={"case": drawn})
            if is_taken(nb, drawn):
                return note
        elif not note.case:
            number = new_case_id(note.date, lambda number: is_taken(nb, number))
            note = note.model_copy(update={"case": number})
            if is_key(once):
                _remember_sent(nb, once, note)
        elif nb.case_path(note.case) is not None:
            taken = f"{quoted(note.case)} is taken"
            raise NoteError.of("case", taken, "leave it empty, and a new number is given")
        _write_new(nb.root / CASES / note.case[:4] / f"{note.case}.md", note)
    return note


def is_key(text: str) -> bool:
    """Tell whether a text may be a form's key."""
    return bool(_KEY.fullmatch(text))


def case_sent(nb: Notebook, key: str, note: CaseNote) -> str:
    """Return the case number drawn earlier for this note under this key, else ""."""
    kept = read_private(nb.state_dir / "sent" / key) if is_key(key) else ""
    case_id, _, said = kept.partition(" ")
    return case_id if is_case_id(case_id) and said == _digest_of(note) else ""


def save_family(nb: Notebook, note: FamilyNote) -> str:
    """Write a new family note and return its path. Raises: WriteError; NoteError when the family has one."""
    with saving.locked(nb):
        if nb.family_path(note.chassis_family) is not None:
            found = f"{quoted(note.chassis_family)} has a note already"
            raise NoteError.of("chassis_family", found, "revise that one")
        stem = re.sub(r"[\W_]+", "-", note.chassis_family.casefold()).strip("-")
        # A file's name may have 255 bytes (Linux, macOS), and a letter up to four of them.
        stem = stem.encode("utf-8")[:80].decode("utf-8", errors="ignore") or "family"
        paths = (f"{FAMILIES}/{stem}{number}.md" for number in chain([""], count(-2, -1)))
        path = next(path for path in paths if not (nb.root / path).exists())
        _write_new(nb.root / path, note)
    return path


def revise_note(
    nb: Notebook, relpath: str, changes: Mapping[str, Any], *, body: str | None, expect: str
) -> str:
    """Change fields of a note and return the note's new digest; all other bytes stay.

    changes: by front matter key; a value that means the same changes nothing; "" or [] empties a field; None
    removes it. body: None to leave it alone. expect: digest of the bytes that were opened.
    Raises: ChangedOnDisk; NoteError when the result would not be a good note; WriteError.
    """
    with saving.locked(nb):
        data = _opened(nb, relpath, expect)
        front = split(decode_note(data, file=relpath), file=relpath)
        if front.problems:
            raise NoteError(front.problems)
        kind = kind_of(relpath)
        old: Mapping[str, Any] = {key: entry.value for key, entry in front.entries.items()}
        gone = [key for key, value in changes.items() if value is None]
        kept = {key: value for key, value in {**old, **changes}.items() if key not in gone}
        new = kind.from_fields({**kept, "body": "" if body is None else body}).as_fields()
        with contextlib.suppress(NoteError):  # in its own spelling, where it was a good note
            old = kind.from_fields(old).as_fields()
        real = {key: new.get(key, "") for key in changes if new.get(key, "") != old.get(key, "")}
        text = edit_fields(data.decode("utf-8"), real | dict.fromkeys(gone), order=tuple(kind.KEYS))
        if body is not None and tidy_body(body) != tidy_body(front.body):
            text = replace_body(text, tidy_body(body))
        return _replace(nb, relpath, data, text)


def revise_text(nb: Notebook, relpath: str, text: str, *, expect: str) -> str:
    """Replace a note's whole text and return its new digest. Raises: as revise_note()."""
    with saving.locked(nb):
        return _replace(nb, relpath, _opened(nb, relpath, expect), text)


def merge_causes(
    nb: Notebook, from_causes: Iterable[str], into: str, *, dry_run: bool, paths: Iterable[str] | None = None
) -> list[Change]:
    """Rewrite the root cause of every case that has one of the given spellings, and return the changes.

    Capitals and blanks do not matter. Bad notes, and notes that another bench saves meanwhile, are left out.
    dry_run: write nothing. paths: notes to look at, None for all cases. Raises: WriteError; notes saved by
    then stay changed, and merging again does the rest.
    """
    wanted, spellings = " ".join(into.split()), {fold(cause) for cause in from_causes}
    changes: list[Change] = []
    relpaths = nb.scan() if paths is None else paths
    for relpath in (each for each in relpaths if wanted and each.startswith(f"{CASES}/")):
        with contextlib.suppress(NoteError, ChangedOnDisk):
            data = nb.read_bytes(relpath)
            text = decode_note(data, file=relpath)
            said = CaseNote.parse(text, file=relpath).root_cause
            if said == wanted or fold(said) not in spellings:
                continue
            if not dry_run:
                revise_note(nb, relpath, {"root_cause": wanted}, body=None, expect=digest(data))
            line = split(text, file=relpath).entries["root_cause"].line
            changes.append(Change(file=relpath, line=line, before=" ".join(said.split()), after=wanted))
    return changes


def remove_case(nb: Notebook, case_id: str) -> str:
    """Move a case and its pictures to removed/; return its name there. Raises: as restore_case()."""
    with saving.locked(nb):
        relpath = nb.case_path(case_id)
        if relpath is None:
            raise NoteError.of("case", quoted(case_id), "give a case that exists")
        names = chain([case_id], (f"{case_id}.{again}" for again in count(2)))
        removed_id = next(name for name in names if not _removed_folder(nb, name).exists())
        for each in (relpath, *picture_paths(nb, case_id)):
            saving.move_file(nb.path_of(each), _removed_folder(nb, removed_id) / each)
    return removed_id


def restore_case(nb: Notebook, removed_id: str) -> str:
    """Bring a removed case back, and return its number. Raises: NoteError if unknown or taken; WriteError."""
    case_id, _, again = removed_id.partition(".")
    known = is_case_id(case_id) and re.fullmatch("[0-9]*", again)
    with saving.locked(nb):
        folder = _removed_folder(nb, removed_id)
        found = sorted(folder.glob(f"{CASES}/**/*.md")) if known else []
        if not found:
            raise NoteError.of("case", quoted(removed_id), "give a case that was removed")
        if nb.case_path(case_id) is not None:
            raise NoteError.of("case", f"{quoted(case_id)} is taken", "remove the note that is there first")
        for each in (found[0], *folder.glob(f"{PICTURES}/{case_id}/*")):
            saving.move_file(each, nb.root / each.relative_to(folder))
        for emptied in sorted(folder.glob("**/"), reverse=True):
            if not any(emptied.iterdir()):
                emptied.rmdir()
    return case_id


def removed_cases(nb: Notebook) -> list[str]:
    """Return the names of removed cases, sorted, as restore_case() takes them."""
    folders = _removed_folder(nb, "").glob("*/")
    return sorted(each.name for each in folders if any(each.glob(f"{CASES}/**/*.md")))


def is_taken(nb: Notebook, case_id: str) -> bool:
    """Tell whether a case number is taken; looks only at the usual places, as listing all notes is slow."""
    cases, name = nb.root / CASES, f"{case_id}.md"
    known = (_removed_folder(nb, case_id), cases / name, *cases.glob(f"*/{name}"))
    return any(path.exists() for path in known)


def _opened(nb: Notebook, relpath: str, expect: str) -> bytes:
    if not nb.path_of(relpath).exists():
        saving.require_root(nb)
        raise ChangedOnDisk(relpath, "")
    data = nb.read_bytes(relpath)
    if digest(data) != expect:
        raise ChangedOnDisk(relpath, data.decode("utf-8", errors="replace"))
    return data


def _replace(nb: Notebook, relpath: str, old: bytes, text: str) -> str:
    kind_of(relpath).parse(text, file=relpath)
    data = text.encode("utf-8")
    if data != old:
        saving.replace_files({nb.path_of(relpath): data})
    return digest(data)


def _write_new(path: Path, note: Note) -> None:
    if path.exists():
        raise WriteError(f"{path}: not saved, a note of that name is there already")
    try:
        saving.replace_files({path: note.as_text().encode("utf-8")})
    except WriteError:
        # It may have been renamed without being safe. It is deleted, so that "not saved" is true, and saving
        # again makes one note instead of two.
        with contextlib.suppress(OSError):
            path.unlink()
        raise


def _removed_folder(nb: Notebook, removed_id: str) -> Path:
    return nb.state_dir / "removed" / removed_id


def _remember_sent(nb: Notebook, key: str, note: CaseNote) -> None:
    """Store the number drawn for a note. Needs the lock. Raises: WriteError."""
    folder = nb.state_dir / "sent"
    saving.replace_files({folder / key: f"{note.case} {_digest_of(note)}\n".encode("ascii")})
    kept = sorted(os.scandir(folder), key=lambda entry: entry.stat(follow_symlinks=False).st_mtime_ns)
    for entry in kept[:-MOST_KEPT]:
        with contextlib.suppress(OSError):
            os.unlink(entry.path)


def _digest_of(note: CaseNote) -> str:
    text = note.model_copy(update={"case": "20000101-0000"}).as_text()
    return hashlib.sha256(text.encode("utf-8", errors="surrogatepass")).hexdigest()
