"""Tell which device a complaint is about, of those it names."""

from collections.abc import Sequence
from typing import NamedTuple

from kb.notes.family import FamilyNote
from search.reading.asides import is_praised
from search.reading.concepts import ConceptFinder, ConceptHit
from search.reading.text import Token
from search.reading.word_lists import word_sets

_WORDS = word_sets("devices")
_NEAR_START = 12  # words; a device the notebook never had is named early, or in passing; chosen by us
_SUBJECT, _BESIDES, _CLEARED, _COMPARED = range(4)  # how little a name says of the device at fault


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
    hits: Sequence[ConceptHit], tokens: Sequence[Token], families: Sequence[FamilyNote], finder: ConceptFinder
) -> DeviceRead:
    """Return the device a complaint is about: one at fault before one beside it, a known before an unknown.

    Where none is named, one of the notebook may be told by what it alone has: "the bucket stays empty".
    hits: the ideas found, in the order of the text. families: those of the notebook, with the known devices.
    """
    spellings: dict[str, set[str]] = {}
    for device in {note.device for note in families} if hits else ():
        spellings.setdefault(finder.concept_of(device, "device") or device, set()).add(device)
    named = [hit for hit in hits if hit.kind == "device"]
    ranked = []
    for order, hit in enumerate(named):
        called = [name for name in finder.devices.get(hit.concept, ()) if name in spellings]
        concept = called[0] if hit.concept not in spellings and len(called) == 1 else hit.concept
        role, known = _role(hit, tokens), concept in spellings
        if role < (_COMPARED if known else _CLEARED if hit.start_token < _NEAR_START else _SUBJECT):
            ranked.append((role, not known, order, concept, hit))
    if ranked:
        _, _, _, concept, hit = min(ranked)
    else:
        telling = [] if named else [hit for hit in hits if hit.concept in finder.devices]
        left = set(spellings).intersection(*(finder.devices[hit.concept] for hit in telling))
        if not telling or len(left) != 1:
            some = sorted(name for concept in left for name in spellings[concept])
            return DeviceRead(may_be=tuple(some) if telling else ())
        concept, hit = left.pop(), telling[0]
    names = spellings.get(concept, {concept})
    said = " ".join(token.text for token in tokens[hit.start_token : hit.end_token])
    return DeviceRead(min(names) if len(names) == 1 else concept, said, is_taken=hit.concept != concept)


def _role(hit: ConceptHit, tokens: Sequence[Token]) -> int:
    """Return what a device has to do with the fault, by the words around its name."""
    before = hit.start_token
    while before and not tokens[before].after_break and tokens[before - 1].text in _WORDS["passed_over"]:
        before -= 1
    ahead = tokens[before - 1].text if before and not tokens[before].after_break else ""
    nearby = {token.text for token in tokens[max(hit.start_token - 4, 0) : hit.start_token]}
    if ahead in _WORDS["comparing"] or is_praised(tokens, hit.end_token):
        return _COMPARED
    if ahead in _WORDS["others"] | _WORDS["acting"] or nearby & _WORDS["other_people"]:
        return _CLEARED
    if ahead in _WORDS["aside"]:
        return _BESIDES if before > 1 and tokens[before - 2].text in _WORDS["troubles"] else _CLEARED
    return _BESIDES if ahead in _WORDS["beside"] else _SUBJECT
