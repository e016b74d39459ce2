"""Find the device that a complaint is about, and another one that has a fault of its own."""

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from kb.notes.family import FamilyNote
from search.reading.asides import is_praised, places_of
from search.reading.concepts import ConceptFinder, ConceptHit
from search.reading.text import Span, Token
from search.reading.uses import Use, uses_told
from search.reading.word_lists import word_lists, word_sets

_WORDS = word_sets("devices")
_ONE_SET = [frozenset(names.split(", ")) for names in word_lists()["one_set"].values()]
_TO_FAULT = 3  # words between a set and its fault: "washer still leaks"; chosen by us
_NEAR_START = 12  # words; later, a device that the notebook never had is only mentioned; chosen by us
_SUBJECT, _BESIDES, _HANDLED, _CLEARED, _IN_ORDER, _COMPARED = range(6)  # likeliest at fault first


class DeviceRead(NamedTuple):
    """Hold the device in the notebook's spelling, "" for none, and the words that tell of it.

    by: "name", "use" ("dries my hair"), or "other" for another thing's name: an amplifier taken for a
    receiver, a bucket that tells of a dehumidifier. use: the places of "the thing that dries my hair".
    """

    name: str = ""
    said: str = ""
    by: str = "name"
    use: Span = (0, 0)


class _Told(NamedTuple):
    """Hold a device that is told of. The smallest of several is the one at fault."""

    is_in_order: bool
    is_past: bool
    role: int
    is_unknown: bool
    is_well: bool  # no fault follows its name
    place: int
    concept: str
    said: str
    by: str
    use: Span = (0, 0)


def device_of(
    hits: Sequence[ConceptHit],
    before: Sequence[ConceptHit],
    tokens: Sequence[Token],
    families: Sequence[FamilyNote],
    finder: ConceptFinder,
    doubted: str = "",
) -> DeviceRead:
    """Return the device a complaint is about: one at fault before one beside it, a known before an unknown.

    A device that is denied, past, or fine but for this fault counts only if no other is named. A use tells of
    a device, too ("the thing that dries my hair"), or makes a name narrower ("guitar amp"). If none is named,
    it may be the only one of the notebook that has what is named: "the bucket stays empty". hits: concepts,
    in the order of the text. before: devices that are denied or past. families: of the notebook. doubted: a
    device not to read.
    """
    doubted = finder.device(doubted)
    spellings: dict[str, set[str]] = {}
    for device in {note.device for note in families}:
        spellings.setdefault(finder.device(device), set()).add(device)
    named = [hit for hit in (*hits, *before) if hit.kind == "device"]
    uses = [use for use in uses_told(tokens, finder) if use.device != doubted]
    others = {hit.concept for hit in named}
    told = [_told_by_use(use, tokens) for use in uses if use.is_of_thing or use.device not in others]
    bypassed = set().union(*places_of("bypassing", tokens))
    cleared = {hit.concept for hit in named if hit.start_token in bypassed}
    faults = [hit.start_token for hit in hits if hit.kind == "symptom"]
    for hit in named:
        concept, by = _meant(hit, uses, spellings, finder)
        if doubted and concept == doubted:
            continue
        role, known = _role(hit, tokens, first=[hit] == hits[:1]), concept in spellings
        role = max(role, _CLEARED) if hit.concept in cleared else role
        if role < (_COMPARED if known else _CLEARED if hit.start_token < _NEAR_START else _BESIDES):
            well = not any(hit.end_token <= place < hit.end_token + _TO_FAULT for place in faults)
            order = role == _IN_ORDER, hit in before, role, not known, well, hit.start_token
            told.append(_Told(*order, concept, _said(tokens, hit.start_token, hit.end_token), by))
    if told:
        return _device_read(min(told), spellings)
    # The only device of the notebook that has all that is named.
    parts = [] if named else [hit for hit in hits if hit.concept in finder.devices]
    left = set(spellings) - {doubted} if parts else set()
    left.intersection_update(*(finder.devices[hit.concept] for hit in parts))
    if len(left) != 1:
        return DeviceRead()
    said = _said(tokens, parts[0].start_token, parts[0].end_token)
    return _device_read(_Told(False, False, _SUBJECT, False, False, 0, left.pop(), said, "other"), spellings)


def _meant(
    hit: ConceptHit, uses: Sequence[Use], known: Collection[str], finder: ConceptFinder
) -> tuple[str, str]:
    """Return the device that a name means, and what tells it: "drier frosts" is a dehumidifier, by use."""
    places = set(range(hit.start_token, hit.end_token))
    narrower = next((use.device for use in uses if places.intersection(use.places)), hit.concept)
    if narrower != hit.concept:
        return narrower, "use"
    called = [name for name in finder.devices.get(hit.concept, ()) if name in known]
    return (called[0], "other") if hit.concept not in known and len(called) == 1 else (hit.concept, "name")


def _told_by_use(use: Use, tokens: Sequence[Token]) -> _Told:
    """Return the device that a use tells of; "the thing that ..." counts like a name, other uses less."""
    said = _said(tokens, use.first, max(use.places) + 1)
    if use.is_of_thing:
        places = use.first, max(use.places) + 1
        return _Told(False, False, _SUBJECT, False, False, use.first, use.device, said, "use", places)
    return _Told(False, False, _BESIDES, True, False, -len(use.places), use.device, said, "use")


def _said(tokens: Sequence[Token], start: int, end: int) -> str:
    return " ".join(token.text for token in tokens[start:end])


def _device_read(told: _Told, spellings: Mapping[str, set[str]]) -> DeviceRead:
    """Return a device, in the notebook's spelling if that has only one."""
    names = spellings.get(told.concept, {told.concept})
    name = min(names) if len(names) == 1 else told.concept
    return DeviceRead(name, told.said, told.by, use=told.use)


def other_set(
    hits: Sequence[ConceptHit], tokens: Sequence[Token], device: str, *, named: bool
) -> tuple[str, Span]:
    """Return another set at fault, "" for none, and its span: "no sound and [the washer leaks]".

    device: the one answered for, as a concept. named: its model was said, so its kind need not be.
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
    """Tell whether two names may mean one set, or the second something that belongs to it: a charger."""
    return one in ("", other) or other in _ONE_SET[0] or any({one, other} <= group for group in _ONE_SET)


def _phrase_start(tokens: Sequence[Token], place: int) -> int:
    """Return where the phrase of a name begins: "[the old] telly"."""
    while place and not tokens[place].after_break and tokens[place - 1].text in _WORDS["passed_over"]:
        place -= 1
    return place


def _role(hit: ConceptHit, tokens: Sequence[Token], *, first: bool) -> int:
    """Return the role of a device in the fault, by the words around its name.

    first: it comes before all else that is told.
    """
    before = _phrase_start(tokens, hit.start_token)
    ahead = tokens[before - 1].text if before and not tokens[before].after_break else ""
    behind = tokens[hit.end_token].text if hit.end_token < len(tokens) else ""
    nearby = {token.text for token in tokens[max(hit.start_token - 4, 0) : hit.start_token]}
    if ahead in _WORDS["comparing"]:
        return _COMPARED
    # "The telly is fine but silent", not "silent, the telly is fine" nor "sound from the telly is fine"
    if ahead not in _WORDS["beside"] and is_praised(tokens, hit.end_token):
        return _IN_ORDER if first else _COMPARED
    if ahead in _WORDS["others"] | _WORDS["acting"] or nearby & (_WORDS["other_people"] | _WORDS["claiming"]):
        return _CLEARED
    if ahead in _WORDS["aside"]:
        return _BESIDES if before > 1 and tokens[before - 2].text in _WORDS["troubles"] else _CLEARED
    after = [token.text for token in tokens[hit.end_token :][:2]]
    inlet = after[:1] and after[0] in _WORDS["inlets"] and after[1:] and after[1] in ("on", "of", "at")
    if inlet or after in (["at", "it"], ["onto", "it"]):
        return _CLEARED  # "threw the controller at it", "the set-top box socket on the telly"
    determined = before < hit.start_token
    acts = ahead.endswith(("ing", "ed")) and ahead not in _WORDS["no_verbs"]
    handled = acts or ahead in _WORDS["handled"]
    theirs = behind in _WORDS["theirs"]
    if (determined and handled) or ahead in _WORDS["circumstances"] or theirs:
        return _CLEARED if theirs and handled else _HANDLED  # "threw the console's controller"
    some = (
        determined and ahead and tokens[hit.start_token - 1].text in ("a", "an")
    )  # "threw a toy train at the telly"
    return _BESIDES if some or ahead in _WORDS["beside"] else _SUBJECT
