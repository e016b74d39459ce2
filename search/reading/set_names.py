"""Find names of families, models and makes in a complaint, in any spelling."""

import operator
import re
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from rapidfuzz import process
from rapidfuzz.distance import OSA

from kb.notes.family import FamilyNote
from kb.notes.models import FamilyMatch, find_family, squeeze
from search.reading.text import Span, Token

_LONGEST_NAME = 3  # chosen by us: words of a model name: "HV 43 L2"
_SHORT_PART = 4  # chosen by us: most letters before or after the part with digits
_FUZZY_FROM = 5  # chosen by us: letters; shorter makes must be spelled right
_LONGEST_ENDING = 12  # chosen by us: characters that a wildcard or a suffix may stand for
_NOTEBOOKS_REMEMBERED = 4  # chosen by us: a server has one, tests have a few
_LONG_MAKE = 8  # chosen by us: letters from which a make may be two edits off
_DIGIT, _LETTER = re.compile(r"\d"), re.compile(r"[^\W\d_]")


@dataclass(frozen=True, kw_only=True)
class SetNames:
    """Hold the names that were read, "" where none was, and where they stand in the text."""

    family: str = ""
    make: str = ""
    model: str = ""
    device: str = ""
    spans: tuple[Span, ...] = ()


def read_set_names(
    text: str,
    tokens: Sequence[Token],
    families: Sequence[FamilyNote],
    *,
    family: str = "",
    knows: Callable[[str], bool] = lambda word: False,
) -> SetNames:
    """Return the family, model, make and device that a text names.

    family: given beside the text; it replaces what is read, and fills in what the text leaves out. knows:
    tells which words are known, and so are no misspelt makes.
    """
    names = _names_of(families)
    spans = list(_windows(tokens, names.named)) if families else []
    matches = [(match, *span) for span in spans if (match := names.find(text[slice(*span)])) is not None]
    # Exact before fuzzy, then the shortest.
    found = max(matches, key=lambda each: (each[0].exact, each[1] - each[2]), default=None)
    match = names.find(family) if family else found and found[0]
    make, make_spans = _make_in(tokens, names.makes, knows)
    told = (*((found[1:],) if found else ()), *make_spans)
    if match is None:
        return SetNames(family=family.strip(), make=make, spans=told)
    note, model = match.family, ""
    if found and note is found[0].family:
        said = text[found[1] : found[2]]
        spelled = {squeeze(name): name.rstrip("*") for name in note.models}
        model = (spelled | {squeeze(note.chassis_family): ""}).get(squeeze(said), said)
    return SetNames(
        family=note.chassis_family, make=make or note.make, model=model, device=note.device, spans=told
    )


class FamilyNames:
    """Hold the names of many families so that the few which a text may mean are found at once.

    Only these go to kb.notes.models, which compares one name with each family.
    """

    def __init__(self, families: Sequence[FamilyNote]) -> None:
        self.families = tuple(families)
        self.makes = {squeeze(note.make): note.make for note in families if squeeze(note.make)}
        self.named = {squeeze(note.chassis_family) for note in families}
        self._places: dict[str, list[int]] = {}
        for place, note in enumerate(self.families):
            for name in {squeeze(said.partition("*")[0]) for said in (note.chassis_family, *note.models)}:
                self._places.setdefault(name, []).append(place)
        self._names = [name for name in self._places if name]

    def find(self, said: str) -> FamilyMatch | None:
        """Return what kb.notes.models.find_family() finds among all the families."""
        name = squeeze(said)
        spellings = {name, *(name.removeprefix(make) for make in self.makes if name.startswith(make))}
        near = {other for spelling in spellings for other in self._near(spelling)}
        places = sorted({place for other in near for place in self._places[other]})
        return find_family(said, [self.families[place] for place in places]) if places else None

    def _near(self, name: str) -> Iterator[str]:
        """Yield every name that this one starts with, and those one edit away from it or its start."""
        yield from (name[:end] for end in range(1, len(name) + 1) if name[:end] in self._places)
        for end in range(max(len(name) - _LONGEST_ENDING, _FUZZY_FROM), len(name) + 1):
            start, near = name[:end], OSA.distance
            found = process.extract(start, self._names, scorer=near, score_cutoff=1, limit=None)
            yield from (other for other, _, _ in found)


_known_names: deque[FamilyNames] = deque(maxlen=_NOTEBOOKS_REMEMBERED)


def _names_of(families: Sequence[FamilyNote]) -> FamilyNames:
    """Return the names of some families, kept for next time."""
    for names in list(_known_names):  # another thread may add to them
        if len(names.families) == len(families) and all(map(operator.is_, names.families, families)):
            return names
    names = FamilyNames(families)
    _known_names.appendleft(names)
    return names


def _windows(tokens: Sequence[Token], named: set[str]) -> Iterator[Span]:
    """Yield each run of words with letters and digits: it may be a model or family name."""
    for first in range(len(tokens)):
        for last in range(first, min(first + _LONGEST_NAME, len(tokens))):
            if last > first and tokens[last].after_break:
                break
            parts = [token.stem for token in tokens[first : last + 1]]
            name = "".join(parts)
            whole = last == first or all(_DIGIT.search(part) or len(part) <= _SHORT_PART for part in parts)
            if name in named or (whole and len(name) > 2 and _DIGIT.search(name) and _LETTER.search(name)):
                yield tokens[first].start, tokens[last].end


def _make_in(
    tokens: Sequence[Token], makes: Mapping[str, str], knows: Callable[[str], bool]
) -> tuple[str, tuple[Span, ...]]:
    """Return the make that a text names, and where; longer makes may be misspelt."""
    for place, token in enumerate(tokens):
        for last in range(place, min(place + _LONGEST_NAME, len(tokens))):
            name = squeeze("".join(part.text for part in tokens[place : last + 1]))
            if name in makes:
                return makes[name], ((token.start, tokens[last].end),)
    for token in tokens:
        word = squeeze(token.text)
        edits = 2 if len(word) >= _LONG_MAKE else 1
        if len(word) < _FUZZY_FROM or knows(token.text):
            continue
        for name, make in makes.items():
            if name[0] == word[0] and OSA.distance(word, name, score_cutoff=edits) <= edits:
                return make, ((token.start, token.end),)
    return "", ()
