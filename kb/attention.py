"""List what in a notebook needs a technician's attention."""

import contextlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from operator import attrgetter
from pathlib import PurePosixPath
from typing import NamedTuple

from kb.errors import NoteError, Problem, printable, quoted, say_count
from kb.notebook import FAMILIES, FileStamp, Notebook
from kb.notes.frontmatter import split
from kb.notes.models import find_family
from kb.notes.note import NO_FIELD
from kb.settings import settings_or_trouble


class _Looked(NamedTuple):
    """Keep what problems() needs of one note, so that an unchanged note is not read again."""

    stamp: FileStamp
    problems: tuple[Problem, ...] = ()
    case: str = ""
    family: str = ""
    model: str = ""
    comeback_of: str = ""


class Attention:
    """Look through a notebook's notes, and remember what was seen of each until it changes."""

    def __init__(self, notebook: Notebook) -> None:
        self._notebook = notebook
        self._looked: dict[str, _Looked] = {}

    def problems(self) -> list[Problem]:
        """Return all that needs attention, by file and line. The first call reads every note."""
        scanned, fresh = self._notebook.scan(), {}
        for relpath, stamp in scanned.items():
            known = self._looked.get(relpath)
            fresh[relpath] = known if known and known.stamp == stamp else self._look(relpath, stamp)
        names = {PurePosixPath(relpath).stem for relpath in scanned}
        self._looked = fresh  # replaced whole, so that threads need no lock
        found = [
            *(problem for note in fresh.values() for problem in note.problems),
            *self._notebook.terms()[1],
            *settings_or_trouble(self._notebook.root)[1],
            *_duplicates(fresh),
            *self._without_family(fresh),
            *self._odd_comebacks(fresh, names),
            *self._notebook.passed_over(),
            *self._lonely_pictures(names),
        ]
        return sorted(found, key=attrgetter("file", "line", "field"))

    def _look(self, relpath: str, stamp: FileStamp) -> _Looked:
        try:
            family = relpath.startswith(f"{FAMILIES}/")
            note = self._notebook.read_family(relpath) if family else self._notebook.read_case(relpath)
        except NoteError as error:
            return _Looked(stamp, error.problems)
        slips = [
            (key, f"write {meant}, or another name if it is your own") for key, meant in note.slips().items()
        ]
        problems = tuple(self._at(relpath, key, NO_FIELD, remedy) for key, remedy in slips)
        case, model, comeback_of = (getattr(note, name, "") for name in ("case", "model", "comeback_of"))
        return _Looked(stamp, problems, case, note.chassis_family, model, comeback_of)

    def _without_family(self, looked: Mapping[str, _Looked]) -> Iterator[Problem]:
        families = self._notebook.families()
        cases: dict[str, list[str]] = defaultdict(list)
        for relpath, note in looked.items():
            if note.case and note.family not in families:
                cases[note.family].append(relpath)
        for name, relpaths in cases.items():
            said = (name, looked[relpaths[0]].model)
            nearest = next(filter(None, (find_family(each, list(families.values())) for each in said)), None)
            wanted = f"write {nearest.family.chassis_family}, or " if nearest else ""
            found = f"{quoted(name)} (in {say_count(len(relpaths), 'case')}) has no family note"
            yield self._at(relpaths[0], "chassis_family", found, f"{wanted}add a family note for it")

    def _odd_comebacks(self, looked: Mapping[str, _Looked], known: Collection[str]) -> Iterator[Problem]:
        remedy = "write the number of the earlier case, or delete the line"
        for relpath, note in looked.items():
            if note.comeback_of and (note.comeback_of not in known or note.comeback_of == note.case):
                what = "this case itself" if note.comeback_of == note.case else "no case in this notebook"
                yield self._at(relpath, "comeback_of", f"{quoted(note.comeback_of)} is {what}", remedy)

    def _at(self, relpath: str, field: str, found: str, remedy: str) -> Problem:
        """Return a problem of one field, with the line where that field stands."""
        line = 1
        with contextlib.suppress(NoteError, KeyError):
            line = split(self._notebook.read_text(relpath), file=relpath).entries[field].line
        return Problem(field, found, remedy, file=relpath, line=line)

    def _lonely_pictures(self, known: Collection[str]) -> Iterator[Problem]:
        """Yield the folders of photographs whose case is not in the notebook."""
        found, remedy = "their case is not in this notebook", "put the case back, or delete the folder"
        for folder in self._notebook.root.glob("pictures/*/"):
            if folder.name not in known and any(folder.glob("*")):
                yield Problem("pictures", found, remedy, file=printable(f"pictures/{folder.name}"), line=1)


def _duplicates(looked: Mapping[str, _Looked]) -> Iterable[Problem]:
    first: dict[tuple[str, str], str] = {}
    for relpath, note in looked.items():
        kind, name = ("case", note.case) if note.case else ("chassis_family", note.family)
        if name and first.setdefault((kind, name), relpath) != relpath:
            found = f"{quoted(name)} is also in {first[kind, name]}"
            yield Problem(kind, found, "keep one of the two notes", file=relpath, line=1)
