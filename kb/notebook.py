"""A notebook: a plain folder of markdown notes. This module only reads it."""

import contextlib
import os
import shutil
import tempfile
import threading
from collections.abc import Iterator
from itertools import chain
from pathlib import Path, PurePosixPath

from kb.errors import NotebookError, NoteError, Problem, printable, quoted
from kb.files import read_file
from kb.notes.case import CaseNote, is_case_id
from kb.notes.family import FamilyNote
from kb.notes.frontmatter import decode_note
from kb.terms import Vocabulary, load_vocabulary

CASES, FAMILIES, PICTURES, TERMS, STATE = "cases", "families", "pictures", "terms.toml", ".benchlore"
_KEPT = ("removed", "removed-pictures", "drafts")  # folders of STATE that cannot be made again
LARGEST_NOTE_BYTES = 2_000_000  # chosen by us: a bigger file is no note (test_notebook)
DEMO = Path(__file__).parent / "demo"  # open_demo() opens a copy, never this folder

# Tells one state of a file from the next: size in bytes, and nanoseconds since 1970-01-01. There is one for
# each note, so it is a plain tuple of numbers: the garbage collector stops looking at those.
FileStamp = tuple[int, int]


def stamp_of(status: os.stat_result) -> FileStamp:
    """Return the stamp of a file's status."""
    return status.st_size, status.st_mtime_ns


class Notebook:
    """Read a notebook folder. Safe to use from several threads."""

    def __init__(self, root: Path) -> None:
        """Open the folder. Raises: NotebookError when it is missing or no folder."""
        self.root = Path(root).absolute()
        self._require_root()
        self._lock = threading.Lock()
        self._families: tuple[dict[str, FileStamp], dict[str, tuple[str, FamilyNote]]] = ({}, {})
        self._vocabulary: tuple[FileStamp | None, Vocabulary, tuple[Problem, ...]] | None = None

    @property
    def state_dir(self) -> Path:
        """Return the folder for the index and other things that can be rebuilt, made where it may be."""
        folder = self.root / STATE
        with contextlib.suppress(OSError):
            folder.mkdir(exist_ok=True)
            with (folder / ".gitignore").open("x", encoding="utf-8") as stream:
                stream.write("*\n")
        return folder

    def scan(self) -> dict[str, FileStamp]:
        """Return the posix paths of all notes, sorted, with their stamps. Raises: NotebookError."""
        self._require_root()
        return dict(sorted(found for found in self._entries(CASES, FAMILIES) if isinstance(found, tuple)))

    def passed_over(self) -> list[Problem]:
        """Return a problem for everything among the notes that is not read; else nobody would notice."""
        return [found for found in self._entries(CASES, FAMILIES) if isinstance(found, Problem)]

    def _entries(self, *folders: str) -> Iterator[tuple[str, FileStamp] | Problem]:
        """Yield the notes in some folders, and problems for what is skipped. Of CASES also its subfolders."""

        def problem(field: str, found: str, remedy: str) -> Problem:
            return Problem(field, found, remedy, file=printable(relpath), line=1)

        waiting = list(folders)
        while waiting:
            folder = relpath = waiting.pop()  # problem() names what is being looked at
            try:
                with os.scandir(self.root / folder) as entries:
                    listed = list(entries)
            except FileNotFoundError:
                continue
            except OSError as error:
                trouble = f"cannot be looked into ({error.strerror})"
                yield problem("folder", trouble, "make the folder readable")
                continue
            for entry in listed:
                relpath = f"{folder}/{entry.name}"
                try:
                    if not entry.name.isprintable():
                        yield problem("name", "characters that cannot be shown", "give it a plain name")
                    elif entry.name.startswith("."):
                        continue
                    elif entry.name.endswith(".md") and entry.is_file():  # first: there are very many of them
                        yield relpath, stamp_of(entry.stat())
                    elif entry.is_dir(follow_symlinks=False):
                        waiting.extend([relpath] if relpath.startswith(f"{CASES}/") else [])
                    elif entry.is_dir():
                        yield problem("folder", "a link to a folder", "put the folder itself there")
                    elif entry.name.endswith(".md"):
                        yield problem("note", "not a plain file", "put the note itself there")
                except FileNotFoundError:  # it vanished meanwhile
                    continue
                except OSError as error:  # a link that leads to itself
                    trouble = f"cannot be looked at ({error.strerror})"
                    yield problem("note", trouble, "put the note itself there")

    def read_bytes(self, relpath: str) -> bytes:
        """Return a note's bytes. Raises: NoteError when it cannot be read, or is far too big for a note."""
        path = self.path_of(relpath)
        try:
            data = read_file(path, within=self.root, most=LARGEST_NOTE_BYTES + 1)
        except OSError as error:
            found, remedy = f"cannot be read ({error.strerror or error})", "put it back, or make it readable"
            raise NoteError.of("note", found, remedy, file=relpath, line=1) from error
        if len(data) > LARGEST_NOTE_BYTES:
            found, remedy = f"larger than {LARGEST_NOTE_BYTES:,} bytes", "move it out of the notebook"
            raise NoteError.of("note", found, remedy, file=relpath, line=1)
        return data

    def path_of(self, relpath: str) -> Path:
        """Return the full path of a note. Raises: NotebookError for a path that leads out of the notebook."""
        pure = PurePosixPath(relpath)
        if pure.is_absolute() or ".." in pure.parts or "\\" in relpath or "\0" in relpath:
            outside = f"{quoted(relpath)}: not a path within the notebook"
            raise NotebookError(f"{outside}; give one below {self.root}")
        return self.root / pure

    def read_case(self, relpath: str) -> CaseNote:
        """Return one case. Raises: NoteError with every problem of the note."""
        return CaseNote.parse(self.read_text(relpath), file=relpath)

    def read_family(self, relpath: str) -> FamilyNote:
        """Return one family. Raises: NoteError with every problem of the note."""
        return FamilyNote.parse(self.read_text(relpath), file=relpath)

    def read_text(self, relpath: str) -> str:
        """Return a note's text. Raises: NoteError when it cannot be read, or is not UTF-8."""
        return decode_note(self.read_bytes(relpath), file=relpath)

    def families(self) -> dict[str, FamilyNote]:
        """Return the families by name. Bad family notes are left out; Attention.problems() lists them."""
        return {name: family for name, (_, family) in self._read_families().items()}

    def family_path(self, chassis_family: str) -> str | None:
        """Return the path of a family's note within the notebook, or None."""
        return self._read_families().get(chassis_family, (None,))[0]

    def case_path(self, case_id: str) -> str | None:
        """Return the path of a case's note within the notebook, or None."""
        if not is_case_id(case_id):
            return None
        name, top = f"{case_id}.md", self.root / CASES
        elsewhere = (Path(folder) for folder, _, names in os.walk(top) if name in names)
        for folder in chain([top / case_id[:4]], elsewhere):
            if (folder / name).is_file() and not folder.is_symlink():
                return (folder / name).relative_to(self.root).as_posix()
        return None

    def vocabulary(self) -> Vocabulary:
        """Return the trade's vocabulary with the shop's own words; a bad terms.toml is left out."""
        return self.terms()[0]

    def _read_families(self) -> dict[str, tuple[str, FamilyNote]]:
        stamps = dict(sorted(found for found in self._entries(FAMILIES) if isinstance(found, tuple)))
        with self._lock:
            if self._families[0] != stamps:
                self._families = (stamps, {})
                for relpath in stamps:
                    with contextlib.suppress(NoteError):
                        family = self.read_family(relpath)
                        self._families[1].setdefault(family.chassis_family, (relpath, family))
            return self._families[1]

    def terms(self) -> tuple[Vocabulary, tuple[Problem, ...]]:
        """Return the vocabulary, and what is wrong with the shop's terms.toml, if anything."""
        path, stamp = self.root / TERMS, None
        with contextlib.suppress(OSError):
            stamp = stamp_of(path.stat())
        with self._lock:
            if self._vocabulary is None or self._vocabulary[0] != stamp:
                try:
                    self._vocabulary = (stamp, load_vocabulary(path), ())
                except NoteError as error:
                    self._vocabulary = (stamp, load_vocabulary(), error.problems)
            return self._vocabulary[1:]

    def _require_root(self) -> None:
        if not self.root.exists():
            raise NotebookError(f"{self.root}: no such folder; make it with: mkdir -p '{self.root}/{CASES}'")
        if not self.root.is_dir():
            raise NotebookError(f"{self.root}: not a folder; give the folder that holds the notes")
        if linked := linked_folder(self.root):
            raise NotebookError(f"{linked}: a link; put the folder itself there, or delete the link")


def open_demo(parent: Path | None = None) -> Notebook:
    """Open a copy of the demo notebook in a new folder below `parent`, or in the system's temporary one."""
    folder = Path(tempfile.mkdtemp(prefix="benchlore-demo-", dir=parent))
    shutil.copytree(DEMO, folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__"))
    return Notebook(folder)


def linked_folder(root: Path) -> Path | None:
    """Return a folder of the notebook that is a link, if any: a link could lead reads and writes anywhere."""
    folders = (STATE, *(f"{STATE}/{name}" for name in _KEPT), CASES, FAMILIES, PICTURES)
    return next((root / name for name in folders if os.path.islink(root / name)), None)
