"""Find what a complaint denies, and what it tells of the past or of another set.

A text goes in, spans of characters come out. Nothing else of the project is needed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from search.reading.denied_kinds import ABSENT, DENIED, NAMED, denied_parts, kind_of
from search.reading.negations import Negation, find_negations
from search.reading.past import past_clauses
from search.reading.scope_ends import evidence_end, scope_end
from search.reading.scope_words import LISTS, Word, cut_words

_DOUBT_WITHIN = 12  # words before a denial in which "maybe" makes it doubtful; chosen by us

Part = tuple[int, int, str]  # start and end in the word list, kind


class Span(NamedTuple):
    """Hold a range of characters, end exclusive.

    doubtful: a "maybe" or "I think" stands before it. named: a thing is ruled out by its name.
    """

    start: int
    end: int
    doubtful: bool = False
    named: bool = False


@dataclass(frozen=True, kw_only=True)
class Scopes:
    """Hold what a text denies and what it tells of other times and sets, in order; no two of these overlap.

    denied: evidence against a fault ("no [hum]"). past: of another time or set ("[you fixed it last year]").
    others: of these, what is told of another set. A missing function ("no picture") is in none: it
    is a symptom and searched as it stands.
    """

    denied: tuple[Span, ...] = ()
    past: tuple[Span, ...] = ()
    others: tuple[Span, ...] = ()


def find_scopes(text: str, meant: Callable[[str], str] = str) -> Scopes:
    """Return what a complaint denies, and what it tells of the past or another set.

    Doubt never makes a denial: it only marks one as doubtful. What is past is not denied.
    meant: tells what a word stands for that may be misspelt.
    """
    words = cut_words(text, meant)
    kinds = ["" for _ in words]
    clauses = list(past_clauses(words))
    for start, end, _ in clauses:
        kinds[start:end] = ["past"] * (end - start)
    for start, end, kind in (*_denied(words), *_ceased(words), *_cleared(words), *_answered(words)):
        for place in range(_skip_leading(words, start, end), end):
            if kinds[place] in ("", ABSENT):
                kinds[place] = kind
    return Scopes(
        denied=tuple(sorted((*_spans(words, kinds, DENIED), *_spans(words, kinds, NAMED)))),
        past=tuple(_spans(words, kinds, "past")),
        others=tuple(Span(words[start].start, words[end - 1].end) for start, end, other in clauses if other),
    )


def grammatical_denials(text: str) -> list[tuple[int, int]]:
    """Return the scope of every negation as character offsets, whatever it means for a fault.

    As in corpora, figures of speech ("not only") and missing functions ("no picture") are among them; what
    could or would not be is not: it is marked as speculation there (Konstantinova et al., LREC 2012).
    """
    words = cut_words(text)
    found = [each for each in find_negations(words) if words[each.cue].text not in LISTS.unreal]
    return [(words[each.start].start, words[each.end - 1].end) for each in found]


def _denied(words: Sequence[Word]) -> Iterator[Part]:
    """Yield what each denial denies; a row such as "no smell, no whiff" is of one kind."""
    last_end, latest = -1, None
    for negation in find_negations(words):
        if negation.figure:
            continue
        if _only_blames(words, negation):
            helper = negation.cue if words[negation.cue].negated else negation.cue - 1
            yield from _subject_before(words, helper)
            continue
        cue = words[negation.cue].text
        in_row = cue == "nor" or (cue == "no" and negation.cue - last_end <= 2)
        for start, end, kind in denied_parts(words, negation, latest if in_row else None):
            yield start, end, kind
            latest = kind
        last_end = negation.end


def _only_blames(words: Sequence[Word], negation: Negation) -> bool:
    """Tell whether a denial is about the thing before it: "the fuse is not the problem"."""
    return LISTS.phrase_at("blame", words, negation.start) == negation.end - negation.start


def _cleared(words: Sequence[Word]) -> Iterator[Part]:
    """Yield the thing that "can be ruled out", and the fault that "is gone": not the picture, a symptom."""
    for place in range(len(words)):
        if LISTS.phrase_at("cleared", words, place):
            yield from _subject_before(words, place)
        elif LISTS.phrase_at("over", words, place):
            for start, end, kind in _subject_before(words, place):
                lasts = any(word.text in LISTS.dangers for word in words[start:end])
                if kind_of(words, start, end) == DENIED and not lasts:
                    yield start, end, kind


def _subject_before(words: Sequence[Word], end: int) -> Iterator[Part]:
    """Yield the noun phrase that ends before a verb."""
    while end > 0 and words[end - 1].text in LISTS.finite:
        end -= 1
    start = end
    while start > 0 and not words[start - 1].is_mark and not words[start - 1].is_cue:
        if any(words[start - 1].text in each for each in (LISTS.joints, LISTS.openers, LISTS.finite)):
            break
        start -= 1
    if end > start and words[start].text not in LISTS.subjects - LISTS.determiners:
        yield start, end, NAMED


def _ceased(words: Sequence[Word]) -> Iterator[Part]:
    """Yield what went on before and does not now: "stopped clicking"; "stopped heating" is a symptom."""
    for place, word in enumerate(words[:-1]):
        if word.text not in LISTS.ceasing or not words[place + 1].text.endswith("ing"):
            continue
        if any(each.is_cue or each.text == "to" for each in words[max(place - 3, 0) : place]):
            continue  # "it never stopped clicking"
        end = evidence_end(words, place + 1, scope_end(words, place))
        yield place + 1, end, kind_of(words, place + 1, end) or ABSENT


def _answered(words: Sequence[Word]) -> Iterator[Part]:
    """Yield what a question or a label asks for and an answer denies: "Any smell? No.", "smoke: none"."""
    for place in range(2, len(words)):
        closes = place + 1 == len(words) or words[place + 1].is_mark
        asked = words[place - 1].is_mark and words[place - 1].text in LISTS.asking_marks
        if words[place].text not in LISTS.answers or not closes or not asked:
            continue
        start = end = place - 1
        while start > 0 and not words[start - 1].is_mark:
            start -= 1
        if end > start:
            yield start, end, kind_of(words, start, end) or DENIED


def _skip_leading(words: Sequence[Word], start: int, end: int) -> int:
    """Return where a denial begins to say something: "any", "been", "a single" say nothing."""
    while start < end - 1 and words[start].text in LISTS.leading:
        start += 1
    return start


def _spans(words: Sequence[Word], kinds: Sequence[str], kind: str) -> Iterator[Span]:
    """Yield the runs of words of one kind."""
    start = None
    for place in range(len(words) + 1):
        inside = place < len(words) and kinds[place] == kind
        if inside and start is None:
            start = place
        elif not inside and start is not None:
            yield Span(words[start].start, words[place - 1].end, _is_doubtful(words, start), kind == NAMED)
            start = None


def _is_doubtful(words: Sequence[Word], place: int) -> bool:
    before = words[max(place - _DOUBT_WITHIN, 0) : place]
    for word in reversed(before):
        if word.is_mark:
            return False
        if word.text in LISTS.doubt:
            return True
    return False
