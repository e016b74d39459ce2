"""Find what a complaint denies, and what it tells of the past or of another set.

A text goes in, spans of characters come out. Nothing else of the project is needed.
"""

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from search.reading.denied_kinds import ABSENT, DENIED, NAMED, Part, denied_parts, kind_of
from search.reading.negations import Negation, evidence_end, find_negations, scope_end
from search.reading.past import past_clauses
from search.reading.scope_words import SENTENCE_ENDS, Word, cut_words, phrase_at
from search.reading.text import Span

# All in words, chosen by us; the limits also keep the time linear in a text's length.
_LONGEST_LABEL = 3  # "burnt smell: none"
_LONGEST_SUBJECT = 12  # of a verb that follows it: "the smell of hot plastic is gone"
_DOUBT_WITHIN = 12  # before a denial, in which "maybe" makes it doubtful


@dataclass(frozen=True)
class Scopes:
    """Hold what a text denies and what it tells of other times and sets, as spans of characters in order.

    denied: evidence against a fault ("no [hum]"). past: of another time or set ("[you fixed it last year]").
    No two of these overlap. doubtful: those denied with a "maybe". named: things ruled out by their names.
    others: what is told of another set. A missing function ("no picture") is in none: it is a symptom.
    """

    denied: tuple[Span, ...] = ()
    past: tuple[Span, ...] = ()
    doubtful: tuple[Span, ...] = ()
    named: tuple[Span, ...] = ()
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
    for start, end, kind in (
        *_denied(words),
        *_ceased(words),
        *_cleared(words),
        *_answered(words),
        *_fronted(words),
    ):
        for place in range(_skip_leading(words, start, end), end):
            if kinds[place] in ("", ABSENT):
                kinds[place] = kind
    denied, named, past = (list(_runs(kinds, kind)) for kind in (DENIED, NAMED, "past"))
    doubtful = [run for run in (*denied, *named) if _is_doubtful(words, run[0])]
    others = [(start, end) for start, end, other in clauses if other]
    spans = (
        tuple(sorted((words[start].start, words[end - 1].end) for start, end in runs))
        for runs in ((*denied, *named), past, doubtful, named, others)
    )
    return Scopes(*spans)


def grammatical_denials(text: str) -> list[tuple[int, int]]:
    """Return the scope of every negation as character offsets, whatever it means for a fault.

    As in corpora, figures of speech ("not only") and missing functions ("no picture") are among them; what
    "couldn't" or "wouldn't" be is not: it is marked as speculation there (Konstantinova et al., LREC 2012).
    """
    words = cut_words(text)
    return [
        (words[place + 1].start, words[end - 1].end)
        for place, end, _ in find_negations(words)
        if not words[place].among("unreal") or " not" in text[words[place].start : words[place].end]
    ]


def _denied(words: Sequence[Word]) -> Iterator[Part]:
    """Yield what each denial denies; a row such as "no smell, no whiff" is of one kind."""
    row: list[Negation] = []
    for negation in find_negations(words):
        if negation.figure:
            continue
        cue = words[negation.cue]
        if phrase_at("blame", words, negation.cue + 1) == negation.end - negation.cue - 1:
            yield from _subject_before(words, negation.cue)  # "the fuse is not the problem"
            continue
        between = words[row[-1].end : negation.cue] if row else ()
        goes_on = len(between) <= 2 and not any(word.text in SENTENCE_ENDS for word in between)
        if row and not (cue.text in ("nor", words[row[-1].cue].text) and goes_on):
            yield from denied_parts(words, row)
            row = []
        row.append(negation)
    yield from denied_parts(words, row)


def _cleared(words: Sequence[Word]) -> Iterator[Part]:
    """Yield the thing that "can be ruled out", and the fault that "is gone": not the picture, a symptom."""
    for place in range(len(words)):
        if phrase_at("cleared", words, place):
            yield from _subject_before(words, place)
        elif phrase_at("over", words, place):
            for start, end, _ in _subject_before(words, place):
                dangers = any(word.among("dangers") for word in words[start:end])
                yield start, end, kind_of(words, start, end) or ABSENT if not dangers else ABSENT


def _subject_before(words: Sequence[Word], end: int) -> Iterator[Part]:
    """Yield the noun phrase that ends before a verb."""
    while words[end - 1].among("finite"):
        end -= 1
    start = _clause_start(words, end)
    if end > start and (words[start].among("determiners") or not words[start].among("subjects")):
        yield start, end, NAMED


def _clause_start(words: Sequence[Word], end: int) -> int:
    """Return where the clause begins whose part ends before a word."""
    for start in range(end, max(end - _LONGEST_SUBJECT, 0), -1):
        before = words[start - 1]
        if before.is_mark or before.is_cue or before.among("joints", "openers", "finite"):
            return start
    return end


def _ceased(words: Sequence[Word]) -> Iterator[Part]:
    """Yield what went on before and does not now: "stopped clicking"; "stopped heating" is a symptom."""
    for place in range(len(words)):
        start = place + phrase_at("ceasing", words, place)
        if start == place or not words[start].text.endswith("ing"):
            continue
        if not any(word.is_cue or word.text == "to" for word in words[max(place - 3, 0) : place]):
            end = evidence_end(words, start, scope_end(words, start - 1))
            yield start, end, kind_of(words, start, end) or ABSENT  # but not "it never stopped clicking"


def _answered(words: Sequence[Word]) -> Iterator[Part]:
    """Yield what a question or a label asks for and an answer denies: "Any smell? No.", "smoke: none"."""
    for place in range(2, len(words) - 1):
        length, end = phrase_at("answers", words, place), place - 1
        if not length or not words[end].among("asking_marks"):
            continue
        after = words[place + length]
        start = next(before for before in range(end, 0, -1) if words[before - 1].is_mark)
        if words[end].text == "?":
            answers = (after.is_mark or length > 1) and not words[start].among("openers")  # "Why? No idea."
        else:
            answers = after.is_mark and after.text != "?" and end - start <= _LONGEST_LABEL
        if answers and end > start and not words[start].is_cue:
            yield _asked(words, start, end, ABSENT if words[end].text == "," else DENIED)


def _fronted(words: Sequence[Word]) -> Iterator[Part]:
    """Yield what stands before the subject of a denial: "[the pump] I don't hear", "[smelly] it is not"."""
    for place, word in enumerate(words):
        if not word.is_cue:
            continue
        after, end = place + 1, place
        while words[after].among("perceiving", "elided"):
            after += 1
        while words[end - 1].among("finite", "perceiving") and not words[end - 1].is_cue:
            end -= 1
        subject = words[end - 1]
        if not (words[after].is_mark or words[after].among("joints")):
            continue
        if subject.among("subjects"):
            asked = words[end - 2].text == "?"  # "Did it trip? It didn't."
            end -= 1 + asked
            start = _clause_start(words, end)
            if end > start and (asked or not words[start].among("subjects", "circumstances", "prepositions")):
                yield _asked(words, start, end, NAMED if subject.among("persons") else ABSENT)
        elif word.text == "none" and end < place:  # "looked for cracks and found none"
            start = next(
                (each + 1 for each in range(end, max(end - 8, 0), -1) if words[each].text == "for"), end
            )
            yield start, end - words[end - 1].among("joints"), DENIED


def _asked(words: Sequence[Word], start: int, end: int, usual: str) -> Part:
    """Return what a question asks for with its kind: "is it [the fuse]" asks for a thing by its name."""
    for place in range(start, end - 1):
        if words[place].text == "it" and words[place + 1].among("definite"):
            return place + 1, end, NAMED
    return start, end, kind_of(words, start, end) or usual


def _skip_leading(words: Sequence[Word], start: int, end: int) -> int:
    """Return where a denial begins to say something: "any", "been", "a single" say nothing.

    Nor do those who perceive nothing, or of what it is one: "nobody [has heard] a bang", "none [of us saw]".
    """
    if any(word.text == "of" for word in words[start : start + 2]):
        ends = (place + 1 for place in range(start, end - 1) if words[place].among("in_s", "objects"))
        start = next(ends, start)
    for place in range(start, end):
        if words[place].among("faults", "functions"):
            break
        if words[place].among("perceiving") or (words[place].among("being") and place < end - 1):
            start = place + 1
            break
    while start < end - 1 and words[start].among("leading"):
        start += 1
    return start


def _runs(kinds: Sequence[str], kind: str) -> Iterator[tuple[int, int]]:
    """Yield the places of words of one kind, as start and end."""
    for run_kind, run in itertools.groupby(range(len(kinds)), key=kinds.__getitem__):
        if run_kind == kind:
            places = [*run]
            yield places[0], places[-1] + 1


def _is_doubtful(words: Sequence[Word], start: int) -> bool:
    """Tell whether "maybe" or "I think" stands before a word."""
    before = reversed(words[max(start - _DOUBT_WITHIN, 0) : start])
    return any(word.among("doubt") for word in itertools.takewhile(lambda word: not word.is_mark, before))
