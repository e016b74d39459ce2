"""Find what a complaint says of the set: its family, model and make in any spelling, and the device."""

import operator
import re
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from rapidfuzz import process
from rapidfuzz.distance import OSA

from kb.notes.family import FamilyNote
from kb.notes.models import FamilyMatch, find_family, squeeze
from search.reading.asides import is_praised, places_of
from search.reading.concepts import ConceptFinder, ConceptHit
from search.reading.text import Span, Token
from search.reading.word_lists import word_lists, word_sets

_LONGEST_NAME = 3  # chosen by us: words a model name may fall into: "HV 43 L2"
_SHORT_PART = 4  # chosen by us: letters before or after the part with the digits
_FUZZY_FROM = 5  # chosen by us: shorter makes must be spelled right
_LONGEST_ENDING = 12  # chosen by us: characters a wildcard or a suffix may stand for in a complaint
_NOTEBOOKS_REMEMBERED = 4  # chosen by us: a server has one notebook, tests have a few
_LONG_MAKE = 8  # chosen by us: from here on a make may be two edits off
_WORDS = word_sets("devices")
_ONE_SET = [frozenset(names.split(", ")) for names in word_lists()["one_set"].values()]
_TO_FAULT = 3  # words from a set to what it does: "washer still leaks"; chosen by us
_NEAR_START = 12  # words; a device the notebook never had is named early, or in passing; chosen by us
_SUBJECT, _BESIDES, _CLEARED, _IN_ORDER, _COMPARED = range(5)  # how little a name says of the device at fault
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

    family: given beside the text; it counts instead of what is read, and fills in what the text leaves out.
    knows: tells which words need no bending towards a make.
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
    """Hold every name of some families in a form that tells at once which families a text may mean.

    kb.models compares one name with all of them; with hundreds of families only those in question go there.
    """

    def __init__(self, families: Sequence[FamilyNote]) -> None:
        self.families = tuple(families)
        self.makes = {squeeze(note.make): note.make for note in families if squeeze(note.make)}
        self.named = {squeeze(note.chassis_family) for note in families}
        self._places: dict[str, list[int]] = {}
        for place, note in enumerate(self.families):
            for name in {squeeze(said) for said in (note.chassis_family, *note.models)}:
                self._places.setdefault(name, []).append(place)
        self._names = [name for name in self._places if name]

    def find(self, said: str) -> FamilyMatch | None:
        """Return what kb.models.find_family finds among all the families."""
        name = squeeze(said)
        spellings = {name, *(name.removeprefix(make) for make in self.makes if name.startswith(make))}
        near = {other for spelling in spellings for other in self._near(spelling)}
        places = sorted({place for other in near for place in self._places[other]})
        return find_family(said, [self.families[place] for place in places]) if places else None

    def _near(self, name: str) -> Iterator[str]:
        """Yield every name this one starts with, and those an edit away from it or from its start."""
        yield from (name[:end] for end in range(1, len(name) + 1) if name[:end] in self._places)
        for end in range(max(len(name) - _LONGEST_ENDING, _FUZZY_FROM), len(name) + 1):
            start, near = name[:end], OSA.distance
            found = process.extract(start, self._names, scorer=near, score_cutoff=1, limit=None)
            yield from (other for other, _, _ in found)


_known_names: deque[FamilyNames] = deque(maxlen=_NOTEBOOKS_REMEMBERED)


def _names_of(families: Sequence[FamilyNote]) -> FamilyNames:
    """Return the names of some families, made once for the same notes."""
    for names in list(_known_names):  # another thread may add to them
        if len(names.families) == len(families) and all(map(operator.is_, names.families, families)):
            return names
    names = FamilyNames(families)
    _known_names.appendleft(names)
    return names


def _windows(tokens: Sequence[Token], named: set[str]) -> Iterator[Span]:
    """Yield every run of words that may be a model or family name: it has letters and digits."""
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
    """Return the make a text names and where; forgiving of an edit in makes of five letters or more."""
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


class DeviceRead(NamedTuple):
    """Hold the device in the notebook's spelling, "" if none is named, and the word it was taken from.

    is_taken: whether the word is another thing's name: an amplifier taken for a receiver, a bucket that tells
    of a dehumidifier. may_be: devices of the notebook that it can only be, where none is named and more than
    one is left.
    """

    name: str = ""
    said: str = ""
    is_taken: bool = False
    may_be: tuple[str, ...] = ()


def device_of(
    hits: Sequence[ConceptHit],
    before: Sequence[ConceptHit],
    tokens: Sequence[Token],
    families: Sequence[FamilyNote],
    finder: ConceptFinder,
    doubted: str = "",
) -> DeviceRead:
    """Return the device a complaint is about: one at fault before one beside it, a known before an unknown.

    One that is denied, past, or fine but for this fault serves where no other is named. Where none is named
    at all, one of the notebook may be told by what it alone has: "the bucket stays empty".
    hits: the ideas found, in the order of the text. before: devices that are denied or past. families: those
    of the notebook. doubted: a device to read in no case.
    """
    doubted = finder.device(doubted)
    spellings: dict[str, set[str]] = {}
    for device in {note.device for note in families} if hits or before else ():
        spellings.setdefault(finder.device(device), set()).add(device)
    named = [hit for hit in (*hits, *before) if hit.kind == "device"]
    ranked = []
    bypassed = set().union(*places_of("bypassing", tokens))
    cleared = {hit.concept for hit in named if hit.start_token in bypassed}
    for order, hit in enumerate(named):
        called = [name for name in finder.devices.get(hit.concept, ()) if name in spellings]
        concept = called[0] if hit.concept not in spellings and len(called) == 1 else hit.concept
        if doubted and concept == doubted:
            continue
        role, known = _role(hit, tokens, first=[hit] == hits[:1]), concept in spellings
        role = max(role, _CLEARED) if hit.concept in cleared else role
        if role < (_COMPARED if known else _CLEARED if hit.start_token < _NEAR_START else _SUBJECT):
            ranked.append((role == _IN_ORDER, hit in before, role, not known, order, concept, hit))
    if ranked:
        *_, concept, hit = min(ranked)
        return _device_read(concept, hit, spellings, tokens)
    telling = [] if named else [hit for hit in hits if hit.concept in finder.devices]
    if not telling:
        return DeviceRead()
    left = (set(spellings) - {doubted}).intersection(*(finder.devices[hit.concept] for hit in telling))
    if len(left) == 1:
        return _device_read(left.pop(), telling[0], spellings, tokens)
    return DeviceRead(may_be=tuple(sorted(name for concept in left for name in spellings[concept])))


def _device_read(
    concept: str, hit: ConceptHit, spellings: Mapping[str, set[str]], tokens: Sequence[Token]
) -> DeviceRead:
    """Return a device that a hit tells of, in the notebook's spelling where that has one alone."""
    names = spellings.get(concept, {concept})
    said = " ".join(token.text for token in tokens[hit.start_token : hit.end_token])
    return DeviceRead(min(names) if len(names) == 1 else concept, said, is_taken=hit.concept != concept)


def other_set(
    hits: Sequence[ConceptHit], tokens: Sequence[Token], device: str, *, named: bool
) -> tuple[str, Span]:
    """Return another set at fault, "" for none, and where it is told of: "no sound and [the washer leaks]".

    device: the one answered for, as a concept. named: by its model, so that its kind need not be said.
    """
    symptoms = [hit.start_token for hit in hits if hit.kind == "symptom"]
    before, told_from = device if named else "", 0
    for hit in (each for each in hits if each.kind == "device"):
        start, behind = _phrase_start(tokens, hit.start_token), hit.end_token
        joint = tokens[start - 1].text if start else ""
        opens = start and (tokens[start].parted or joint in _WORDS["joining"])
        ours = any(told_from <= place < start for place in symptoms)
        its = any(behind <= place < behind + _TO_FAULT for place in symptoms)
        alone = _may_be_one(before, hit.concept) or is_praised(tokens, behind)
        if opens and ours and its and not (alone or tokens[behind].after_break):
            second = hit.concept, (tokens[start].start, tokens[-1].end)
            return second if _may_be_one(device, before) else (before, (0, tokens[start].start))
        before, told_from = hit.concept, 0 if joint in _WORDS["beside"] else behind
    return "", (0, 0)


def _may_be_one(one: str, other: str) -> bool:
    """Tell whether two names may be of one set, or the second is of what only belongs to one: a charger."""
    return one in ("", other) or other in _ONE_SET[0] or any({one, other} <= group for group in _ONE_SET)


def _phrase_start(tokens: Sequence[Token], place: int) -> int:
    """Return where the words of a name begin: "[the old] telly"."""
    while place and not tokens[place].after_break and tokens[place - 1].text in _WORDS["passed_over"]:
        place -= 1
    return place


def _role(hit: ConceptHit, tokens: Sequence[Token], *, first: bool) -> int:
    """Return what a device has to do with the fault, by the words around its name.

    first: whether it comes before all else that is told.
    """
    before = _phrase_start(tokens, hit.start_token)
    ahead = tokens[before - 1].text if before and not tokens[before].after_break else ""
    nearby = {token.text for token in tokens[max(hit.start_token - 4, 0) : hit.start_token]}
    if ahead in _WORDS["comparing"]:
        return _COMPARED
    # "The telly is fine but silent", not "silent, the telly is fine" nor "sound from the telly is fine"
    if ahead not in _WORDS["beside"] and is_praised(tokens, hit.end_token):
        return _IN_ORDER if first else _COMPARED
    if ahead in _WORDS["others"] | _WORDS["acting"] or nearby & _WORDS["other_people"]:
        return _CLEARED
    if ahead in _WORDS["aside"]:
        return _BESIDES if before > 1 and tokens[before - 2].text in _WORDS["troubles"] else _CLEARED
    some = ahead and tokens[hit.start_token - 1].text in ("a", "an")  # "threw a toy train at the telly"
    return _BESIDES if some or ahead in _WORDS["beside"] else _SUBJECT
