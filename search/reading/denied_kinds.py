"""Tell evidence against a fault ("no hum") from a fault told as an absence ("no picture", "won't start")."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from search.reading.negations import Negation
from search.reading.scope_ends import denies_being, evidence_end
from search.reading.scope_words import LISTS, Word
from search.reading.text import stem

DENIED, NAMED, ABSENT = "denied", "named", "absent"  # NAMED: a thing ruled out by its name


def denied_parts(
    words: Sequence[Word], negation: Negation, usual: str | None = None
) -> Iterator[tuple[int, int, str]]:
    """Yield the parts of a denial as (start, end, kind): "no sound, hum or smell" has three.

    A part that says nothing by itself takes the kind of the part before it, else of the one after, else
    usual, else what its construction mostly means in a complaint.
    """
    start = negation.start
    end = evidence_end(words, start, negation.end)
    if _names_what_it_is_not(words, negation):
        yield start, end, NAMED
        return
    parts = list(_parts(words, start, end))
    is_verb = words[negation.cue].text not in LISTS.noun_cues
    known = [kind_of(words, first, last, is_verb=is_verb) for first, last in parts]
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


def kind_of(words: Sequence[Word], start: int, end: int, *, is_verb: bool = False) -> str | None:
    """Return the kind of a phrase, None if it has neither a fault nor a function.

    The words before the first preposition decide; a fault weighs more than a function ("no flashing lights"),
    but a verb decides by itself: after "won't charge" a hurried owner often names the next symptom.
    """
    if is_verb and _kind_of_words(words, start, start + 1) == ABSENT:
        return ABSENT
    head = start + 1
    while head < end and words[head].text not in LISTS.prepositions - LISTS.transparent:
        head += 1
    head = min(head, end)
    return _kind_of_words(words, start, head) or _kind_of_words(words, head, end)


def _kind_of_words(words: Sequence[Word], start: int, end: int) -> str | None:
    function = False
    for place in range(start, end):
        if LISTS.phrase_at("function_phrases", words, place):
            return ABSENT
        form = stem(words[place].text)
        if form in FAULT_STEMS or LISTS.phrase_at("fault_phrases", words, place):
            return DENIED
        function = function or form in FUNCTION_STEMS
    return ABSENT if function else None


def _names_what_it_is_not(words: Sequence[Word], negation: Negation) -> bool:
    """Tell whether a thing is ruled out by name: "it isn't the speaker", "not the picture"."""
    cue, start = negation.cue, negation.start
    if LISTS.phrase_at("reasons", words, start):
        return True
    being = LISTS.phrase_at("being_it", words, start)
    if being and start + being < negation.end:  # "it can't be the fuse", "it couldn't have been the fan"
        return words[start + being].text in LISTS.definite
    before = words[cue - 1] if cue else None
    alone = words[cue].text == "not" and (before is None or before.is_mark or before.text in LISTS.doubt)
    if alone and words[start].text in LISTS.prepositions:  # "not from the fan"
        return True
    return (alone or denies_being(words, cue)) and words[start].text in LISTS.definite


def _usual_kind(words: Sequence[Word], negation: Negation) -> str:
    """Return what a denial mostly means in a complaint where its own words leave it open."""
    cue = words[negation.cue]
    if cue.text in ("without", "nobody") or words[negation.start].text == "one":  # "no one"
        return DENIED
    if cue.text in LISTS.noun_cues:
        return ABSENT
    helper = negation.cue if cue.negated else negation.cue - 1
    said = words[helper].text.removesuffix("n't") if helper >= 0 else ""
    if said in LISTS.having:
        return DENIED
    subject = words[helper - 1].text if helper > 0 else ""
    if said in LISTS.persons or (said in LISTS.doing and subject in LISTS.persons):
        return DENIED
    named = words[negation.start].text in LISTS.determiners or words[negation.start].text == "any"
    return DENIED if named and denies_being(words, negation.cue) else ABSENT


FAULT_STEMS = frozenset(stem(word) for word in LISTS.faults)
FUNCTION_STEMS = frozenset(stem(word) for word in LISTS.functions) - FAULT_STEMS
