"""Tell evidence against a fault ("no hum") from a fault told as an absence ("no picture", "won't start")."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from search.reading.negations import Negation, denies_being, evidence_end
from search.reading.scope_words import Word, phrase_at

DENIED, NAMED, ABSENT = "denied", "named", "absent"  # NAMED: a thing ruled out by its name

Part = tuple[int, int, str]  # start and end in the word list, kind


def denied_parts(words: Sequence[Word], row: Sequence[Negation]) -> Iterator[Part]:
    """Yield the parts of a row of denials: "no sound, hum or smell" and "no smoke, no smell" have several.

    A part that says nothing by itself takes the kind of the part before it, else of the one after, else
    what its construction mostly means in a complaint.
    """
    parts = [part for negation in row for part in _parts(words, negation)]
    latest = next((kind for _, _, kind in parts if kind), None) or (row and _usual_kind(words, row[0].cue))
    for start, end, kind in parts:
        joined = words[start - 1].text in ("and", "&")
        if joined and kind == DENIED and latest == ABSENT:
            continue  # "no picture and hums": the hum is there
        latest = kind or latest
        yield start, end, latest or ABSENT


def _parts(words: Sequence[Word], negation: Negation) -> Iterator[tuple[int, int, str | None]]:
    """Yield the parts of one denial between its commas, "or" and "and", None for a kind that is not told."""
    first = negation.cue + 1
    end = evidence_end(words, first, negation.end)
    if _names_what_it_is_not(words, negation):
        yield first, end, NAMED
        return
    cue = words[negation.cue]
    for place in range(first, end + 1):
        if place == end or words[place].is_mark or words[place].among("coordinators"):
            if place > first:
                kind = kind_of(words, first, place, is_verb=not cue.among("noun_cues"))
                stated = words[first].among("states") and (cue.text == "not" or denies_being(cue))
                yield first, place, DENIED if stated else kind
            first = place + 1


def kind_of(words: Sequence[Word], start: int, end: int, *, is_verb: bool = False) -> str | None:
    """Return the kind of a phrase, None if it has neither a fault nor a function.

    The words before the first preposition decide; a fault weighs more than a function ("no flashing lights"),
    but a verb decides by itself: after "won't charge" a hurried owner often names the next symptom.
    """
    if is_verb and _kind_of_words(words, start, start + 1) == ABSENT:
        return ABSENT
    head = start + 1
    while head < end and (words[head].among("transparent") or not words[head].among("prepositions")):
        head += 1
    return _kind_of_words(words, start, head) or _kind_of_words(words, head, end)


def _kind_of_words(words: Sequence[Word], start: int, end: int) -> str | None:
    function = False
    for place in range(start, end):
        if phrase_at("function_phrases", words, place):
            return ABSENT
        if words[place].among("faults") or phrase_at("fault_phrases", words, place):
            return DENIED
        function = function or words[place].among("functions")
    return ABSENT if function else None


def _names_what_it_is_not(words: Sequence[Word], negation: Negation) -> bool:
    """Tell whether a thing is ruled out by name: "it isn't the speaker", "not the picture"."""
    before, cue, first = words[negation.cue - 1], words[negation.cue], words[negation.cue + 1]
    if phrase_at("reasons", words, negation.cue + 1):
        return True
    thing = negation.cue + 1 + phrase_at("being_it", words, negation.cue + 1)
    if thing > negation.cue + 1 and thing < negation.end:  # "it can't be the fuse"
        return words[thing].among("definite")
    if denies_being(cue) and words[negation.cue - 1].among("pointing"):  # "that isn't water"
        return True
    if cue.text == "instead" and words[negation.cue - 2].among("definite"):  # "the plug rather than the lead"
        return first.among("definite")
    alone = cue.text == "not" and (before.is_mark or before.among("doubt"))
    if alone and first.among("prepositions"):  # "not from the fan"
        return True
    return (alone or denies_being(cue)) and first.among("definite")


def _usual_kind(words: Sequence[Word], place: int) -> str:
    """Return what a denial mostly means in a complaint where its own words leave it open."""
    cue, first = words[place], words[place + 1]
    if cue.text in ("without", "instead", "nobody") or first.text == "one":  # "no one"
        return DENIED
    if cue.among("noun_cues"):
        return DENIED if words[place - 1].among("perceiving") else ABSENT  # "I hear no relay"
    if not cue.verb.isdisjoint(("having", "persons")):
        return DENIED
    subject = words[place - 1 if cue.negated else place - 2]
    if "doing" in cue.verb and subject.among("persons"):
        return DENIED
    named = first.among("determiners") or first.text == "any"
    return DENIED if named and denies_being(cue) else ABSENT
