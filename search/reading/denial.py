"""Find what a complaint denies, and what it tells of the past or of another set.

A text goes in, spans of characters come out.
"""

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from search.reading.negations import Negation, evidence_end, find_negations, scope_end
from search.reading.past import past_clauses
from search.reading.scope_words import SENTENCE_ENDS, Word, cut_words, phrase_about, phrase_at
from search.reading.text import Span, Token

# All in words, chosen by us; the limits also keep the time linear in a text's length.
_LONGEST_SUBJECT = 12  # before a verb: "the smell of hot plastic is gone"
_TO_WRONG = 6  # from "but" to the words that say a fear was wrong

# Evidence against a fault ("no hum"), a thing ruled out by name, a fault told as an absence ("no picture").
_DENIED, _NAMED, _ABSENT = "denied", "named", "absent"

_Part = tuple[int, int, str]  # start and end in the word list, kind


@dataclass(frozen=True)
class Scopes:
    """Hold what a text denies and what it tells of other times and sets, as spans of characters in order.

    denied: evidence against a fault ("no [hum]"). past: of another time or set ("[you fixed it last year]").
    These do not overlap. named: the part of denied that rules things out by name. others: the part of past
    that is about another set. A missing function ("no picture") is in none of them: it is a symptom.
    """

    denied: tuple[Span, ...] = ()
    past: tuple[Span, ...] = ()
    named: tuple[Span, ...] = ()
    others: tuple[Span, ...] = ()


def find_scopes(text: str, meant: Callable[[str], str] = str, codes: Sequence[Token] = ()) -> Scopes:
    """Return what a complaint denies, and what it tells of the past or another set.

    In doubt nothing is denied, and what is past is not denied. meant: returns what a possibly misspelt word
    stands for. codes: the fault codes in the text.
    """
    words = cut_words(text, meant, codes)
    kinds = ["" for _ in words]
    clauses = list(past_clauses(words))
    for start, end, _ in clauses:
        kinds[start:end] = ["past"] * (end - start)
    parts = (find(words) for find in (_denied, _cleared, _ceased, _answered, _mistaken))
    for start, end, kind in itertools.chain.from_iterable(parts):
        for place in range(_skip_leading(words, start, end), end):
            if kinds[place] in ("", _ABSENT):
                kinds[place] = kind
    runs = [(kind, [*run]) for kind, run in itertools.groupby(range(len(words)), kinds.__getitem__)]

    def spans(*wanted: str) -> tuple[Span, ...]:
        return tuple((words[run[0]].start, words[run[-1]].end) for kind, run in runs if kind in wanted)

    others = tuple((words[start].start, words[end - 1].end) for start, end, other in clauses if other)
    return Scopes(spans(_DENIED, _NAMED), spans("past"), spans(_NAMED), others)


def grammatical_denials(text: str) -> list[tuple[int, int]]:
    """Return the scope of every negation as character offsets, as corpora mark them.

    Figures of speech ("not only") and missing functions ("no picture") are among them. What follows "couldn't
    be" or "wouldn't be" is not: corpora mark it as speculation (Konstantinova et al., LREC 2012).
    """
    words = cut_words(text)
    return [
        (words[place + 1].start, words[end - 1].end)
        for place, end, _ in find_negations(words)
        if not words[place].among("unreal") or " not" in text[words[place].start : words[place].end]
    ]


def _denied(words: Sequence[Word]) -> Iterator[_Part]:
    """Yield what each denial denies. "Neither the fuse nor the lamp" has one kind."""
    row: list[Negation] = []
    for negation in find_negations(words):
        if negation.figure or words[negation.cue + 1].among("waits_for"):
            continue  # "you see nothing unless you shine a torch at it" tells of a dark picture
        cue = words[negation.cue]
        if phrase_at("blame", words, negation.cue + 1) == negation.end - negation.cue - 1:
            yield _subject_before(words, negation.cue)  # "the fuse is not the problem"
            continue
        if row:
            goes_on = negation.cue - row[-1].end <= 2 and words[negation.cue - 1].text not in SENTENCE_ENDS
            if not (goes_on and cue.text == "nor"):
                yield from _row(words, row)
                row = []
        row.append(negation)
    yield from _row(words, row) if row else ()


def _row(words: Sequence[Word], row: Sequence[Negation]) -> Iterator[_Part]:
    """Yield the parts of a row of denials, such as "no sound, hum or smell" or "not the fuse nor the lamp".

    A part without a kind of its own takes the kind of the part before, else of the one after, else the usual
    meaning of its construction.
    """
    parts = [part for negation in row for part in _parts(words, negation)]
    usual = _DENIED if phrase_about("usually_denied", words, row[0].cue) else _ABSENT
    latest = next((kind for _, _, kind in parts if kind), usual)
    for start, end, kind in parts:
        if words[start - 1].text != "and" or kind != _DENIED or latest != _ABSENT:
            latest = kind or latest
            more = phrase_at("rounding_off", words, end) if latest == _DENIED else 0
            yield start, end + more, latest  # in "no picture and hums" the hum is there


def _parts(words: Sequence[Word], negation: Negation) -> Iterator[_Part]:
    """Yield the parts of one denial, split at commas, "or" and "and"; the kind is "" where it is not told."""
    first = negation.cue + 1
    end = evidence_end(words, first, negation.end)
    if phrase_about("named", words, negation.cue):
        yield first, end, _NAMED  # "it isn't the speaker", "not the picture"
        return
    after_not = words[negation.cue].text == "not" or words[negation.cue].among("not_being")
    for place in range(first, end + 1):
        if place == end or words[place].among("marks", "coordinators"):
            stated = after_not and words[first].among("states")
            yield first, place, _DENIED if stated else _kind_of(words, first, place)
            first = place + 1


def _kind_of(words: Sequence[Word], start: int, end: int) -> str:
    """Return the kind of a phrase, "" if it names no fault and no function.

    The words before the first preposition decide; a fault weighs more than a function ("no flashing lights").
    """
    head = start + 1
    while head < end and (words[head].among("transparent") or not words[head].among("prepositions")):
        head += 1
    for places in (range(start, head), range(head, end)):
        if any(phrase_at("function_phrases", words, place) for place in places):
            return _ABSENT
        if any(words[place].among("faults") or phrase_at("fault_phrases", words, place) for place in places):
            return _DENIED
        if any(words[place].among("functions") for place in places):
            return _ABSENT
    return ""


def _cleared(words: Sequence[Word]) -> Iterator[_Part]:
    """Yield the thing that "can be ruled out", and the fault that "is gone"; a picture gone is a symptom."""
    for place in range(len(words)):
        if phrase_at("cleared", words, place):
            yield _subject_before(words, place)
        elif phrase_at("over", words, place):
            start, end, _ = _subject_before(words, place)
            danger = any(word.among("dangers") for word in words[start:end])
            yield start, end, _ABSENT if danger else _kind_of(words, start, end) or _ABSENT


def _subject_before(words: Sequence[Word], end: int) -> _Part:
    """Return the noun phrase that ends before a verb."""
    while words[end - 1].among("finite"):
        end -= 1
    reach = range(end, max(end - _LONGEST_SUBJECT, 0), -1)
    starts = (start for start in reach if words[start - 1].among("marks", "joints", "openers", "finite"))
    return next(starts, end), end, _NAMED


def _ceased(words: Sequence[Word]) -> Iterator[_Part]:
    """Yield what has stopped: "stopped clicking". "Stopped heating" is a symptom."""
    for place in range(len(words)):
        start = place + phrase_at("ceasing", words, place)
        if start == place or not words[start].text.endswith("ing"):
            continue
        if not any(word.is_cue or word.text == "to" for word in words[max(place - 3, 0) : place]):
            end = evidence_end(words, start, scope_end(words, start - 1))
            yield start, end, _kind_of(words, start, end) or _ABSENT  # not in "it never stopped clicking"


def _answered(words: Sequence[Word]) -> Iterator[_Part]:
    """Yield what is asked for and denied: "Any smell? No.", "smoke: none"."""
    for place in range(2, len(words) - 1):
        length, end = phrase_at("answers", words, place), place - 1
        if not length or not words[end].among("asking_marks"):
            continue
        start = next(before for before in range(end, 0, -1) if words[before - 1].is_mark)
        if not words[start].is_cue and (words[place + length].is_mark or length > 1):
            yield start, end, _kind_of(words, start, end) or _DENIED


def _mistaken(words: Sequence[Word]) -> Iterator[_Part]:
    """Yield what somebody wrongly suspected: "thought it [smoked] but it was steam"."""
    for place in range(len(words)):
        start = place + phrase_at("mistaken", words, place)
        if start == place or words[place - 1].is_cue:
            continue
        reach = range(start, min(start + _LONGEST_SUBJECT, len(words)))
        ends = (each for each in reach if words[each].text in ("but", *SENTENCE_ENDS))
        end = next(ends, start)
        if words[end].text == "but" and any(word.among("wrong") for word in words[end + 1 : end + _TO_WRONG]):
            end -= words[end - 1].text == ","
            # "It was the fuse"
            thing = words[start + 1].among("being") and words[start + 2].among("definite")
            kind = _NAMED if thing else _kind_of(words, start, end)
            if kind in (_DENIED, _NAMED) and not any(word.text == "would" for word in words[start:end]):
                yield start, end, kind


def _skip_leading(words: Sequence[Word], start: int, end: int) -> int:
    """Return the place after words that say nothing themselves: "any", "been", "a single".

    So do the people who noticed nothing: "nobody [has heard] a bang", "none [of us saw]".
    """
    if any(word.text == "of" for word in words[start : start + 2]):
        start = next((place + 1 for place in range(start, end - 1) if words[place].among("in_s")), start)
    for place in range(start, end):
        if words[place].among("perceiving") or (words[place].among("being") and place < end - 1):
            start = place + 1
            break
    while start < end - 1 and words[start].among("leading"):
        start += 1
    return start
