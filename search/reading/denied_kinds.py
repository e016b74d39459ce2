"""Tell evidence against a fault ("no hum") from a fault told as an absence ("no picture", "won't start")."""

from collections.abc import Iterator, Sequence

from search.reading.negations import Negation, evidence_end
from search.reading.scope_words import Word, phrase_about, phrase_at

DENIED, NAMED, ABSENT = "denied", "named", "absent"  # NAMED: a thing ruled out by its name

Part = tuple[int, int, str]  # start and end in the word list, kind


def denied_parts(words: Sequence[Word], row: Sequence[Negation]) -> Iterator[Part]:
    """Yield the parts of a row of denials: "no sound, hum or smell" and "no smoke, no smell" have several.

    A part that says nothing by itself takes the kind of the part before it, else of the one after, else
    what its construction mostly means in a complaint.
    """
    parts = [part for negation in row for part in _parts(words, negation)]
    latest = next((kind for _, _, kind in parts if kind), None)
    if row and not latest:
        latest = DENIED if phrase_about("usually_denied", words, row[0].cue) else ABSENT
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
    cue = words[negation.cue]
    if phrase_about("named", words, negation.cue):
        yield first, end, NAMED  # "it isn't the speaker", "not the picture"
        return
    for place in range(first, end + 1):
        if place == end or words[place].is_mark or words[place].among("coordinators"):
            if place > first:
                kind = kind_of(words, first, place, is_verb=not cue.among("noun_cues"))
                stated = words[first].among("states") and (cue.text == "not" or cue.among("not_being"))
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
