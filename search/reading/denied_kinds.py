"""Tell evidence against a fault ("no hum") from a fault told as an absence ("no picture", "won't start")."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from rapidfuzz import process
from rapidfuzz.distance import OSA

from search.reading.negations import Negation
from search.reading.scope_ends import denies_being
from search.reading.scope_words import LISTS, Word

DENIED, ABSENT = "denied", "absent"


def denied_parts(
    words: Sequence[Word], negation: Negation, usual: str | None = None
) -> Iterator[tuple[int, int, str]]:
    """Yield the parts of a denial as (start, end, kind): "no sound, hum or smell" has three.

    A part that says nothing by itself takes the kind of the part before it, else of the one after, else
    usual, else what its construction mostly means in a complaint.
    """
    start, end = negation.start, negation.end
    if _names_what_it_is_not(words, negation):
        yield start, end, DENIED
        return
    parts = list(_parts(words, start, end))
    known = [kind_of(words, first, last) for first, last in parts]
    latest = next(filter(None, known), None) or usual or _usual_kind(words, negation)
    for (first, last), kind in zip(parts, known, strict=True):
        joined = first > start and words[first - 1].text in ("and", "&")
        if joined and kind == DENIED and latest == ABSENT:
            return  # "no picture and hums": the hum is there
        latest = kind or latest
        yield first, last, latest


def _parts(words: Sequence[Word], start: int, end: int) -> Iterator[tuple[int, int]]:
    """Cut a denial at commas, "or" and "and"."""
    first = start
    for place in range(start, end):
        if words[place].is_mark or words[place].text in LISTS.coordinators:
            if place > first:
                yield first, place
            first = place + 1
    if end > first:
        yield first, end


def kind_of(words: Sequence[Word], start: int, end: int) -> str | None:
    """Return the kind of a phrase, None if it has neither a fault nor a function.

    The words before the first preposition decide; a fault weighs more than a function: "no flashing lights".
    """
    head = start + 1
    while head < end and words[head].text not in LISTS.prepositions - LISTS.transparent:
        head += 1
    head = min(head, end)
    return (
        _kind_of_words(words, start, head)
        or _kind_of_words(words, head, end)
        or next(filter(None, (_kind_of_slip(word.text) for word in words[start:end])), None)
    )


def _kind_of_words(words: Sequence[Word], start: int, end: int) -> str | None:
    function = False
    for place in range(start, end):
        if words[place].text in _FAULTS or LISTS.phrase_at("fault_phrases", words, place):
            return DENIED
        function = function or words[place].text in _FUNCTIONS
    return ABSENT if function else None


@lru_cache(maxsize=1024)
def _kind_of_slip(text: str) -> str | None:
    """Return the kind of the known word that is one slip away: "smel", "pitcure"."""
    if len(text) < 4 or text in LISTS.transparent or text in LISTS.small:
        return None
    for forms, kind in ((_FAULTS, DENIED), (_FUNCTIONS, ABSENT)):
        alike = [form for form in forms if form[0] == text[0]]
        if process.extractOne(text, alike, scorer=OSA.distance, score_cutoff=1):
            return kind
    return None


def _names_what_it_is_not(words: Sequence[Word], negation: Negation) -> bool:
    """Tell whether a thing is ruled out by name: "it isn't the speaker", "not the picture"."""
    cue, start = negation.cue, negation.start
    alone = words[cue].text == "not" and (cue == 0 or words[cue - 1].is_mark)
    if alone and words[start].text in LISTS.prepositions:  # "not from the fan"
        return True
    return (alone or denies_being(words, cue)) and words[start].text in LISTS.definite


def _usual_kind(words: Sequence[Word], negation: Negation) -> str:
    """Return what a denial mostly means in a complaint where its own words leave it open."""
    cue = words[negation.cue]
    if cue.text == "without":
        return DENIED
    if cue.text in LISTS.noun_cues:
        return ABSENT
    helper = negation.cue if cue.negated else negation.cue - 1
    said = words[helper].text.removesuffix("n't") if helper >= 0 else ""
    subject = words[helper - 1].text if helper > 0 else ""
    if said in LISTS.having or said in LISTS.persons or subject in LISTS.persons:
        return DENIED
    named = words[negation.start].text in LISTS.determiners or words[negation.start].text == "any"
    return DENIED if named and denies_being(words, negation.cue) else ABSENT


def _inflected(bases: Iterable[str]) -> frozenset[str]:
    """Return words with the endings that English gives them; wrong forms among them do no harm."""
    forms = set(bases)
    for base in tuple(forms):
        doubled = base[-1] + "ing", base[-1] + "ed", base[-1] + "y"
        forms.update(base + ending for ending in ("s", "es", "ed", "d", "ing", "y", *doubled))
        if base.endswith("e"):
            forms.update((base[:-1] + "ing", base[:-1] + "y"))
        if base.endswith("y"):
            forms.update((base[:-1] + "ies", base[:-1] + "ied"))
    return frozenset(forms)


_FAULTS = _inflected(LISTS.faults)
_FUNCTIONS = _inflected(LISTS.functions) - _FAULTS
