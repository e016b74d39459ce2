"""Find what a complaint tells of the past or of another set: no evidence about the fault at hand."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from search.reading.relative_clauses import past_inside
from search.reading.scope_words import LISTS, Word

_SENTENCE_ENDS = frozenset(".!?\n\u2026")


class Clause(NamedTuple):
    """Hold a clause by its places in the word list, end exclusive. other: it tells of another set."""

    start: int
    end: int
    other: bool = False


def past_clauses(words: Sequence[Word]) -> Iterator[Clause]:
    """Yield the clauses about the past or another set, in order, but not a fault that has come back.

    Source:
        "Historical" and "experiencer" as in ConText: Harkema, Dowling, Thornblade, Chapman, J. Biomedical
        Informatics 42 (2009) 839-851. A clause takes the place of its scope, and "now" begins a new one.
    """
    returned = _return_of_fault(words)
    for start, end in _sentences(words):
        clauses = list(_clauses(words, start, end))
        other = [_is_of_another(words, clause) for clause in clauses]
        past = [_is_past(words, clause) for clause in clauses]
        for place, (clause, after) in enumerate(itertools.pairwise(clauses)):
            if _is_time_alone(words, clause) and not _is_now(words, after):
                past[place + 1] = True  # "last year, you fixed the fuse"
            if _has_repair(words, after) and _past_time(words, clause) is not None:
                past[place] = True  # "two years ago the lamp went and you changed it"
            if _is_ours(words, after) and (_has_word(words, clause, LISTS.likewise) or _owner(words, clause)):
                other[place] = True  # "the set upstairs does it too, but this one hums"
        told: list[Clause] = []
        for clause, is_other, is_past in zip(clauses, other, past, strict=True):
            if is_other:
                told.append(clause._replace(other=True))
            elif is_past and (clause.end > returned or _was_good(words, clause)):
                told += _past_parts(words, clause)
        yield from _merged(words, told)


def _past_parts(words: Sequence[Word], clause: Clause) -> Iterator[Clause]:
    """Yield what of a clause is past: of "the hob you mended in May smells" neither the hob nor its smell."""
    inside = past_inside(words, clause.start, clause.end)
    if inside is None:
        yield clause
        return
    yield Clause(*inside)
    rest = Clause(inside[1], clause.end)
    if rest.end > rest.start and _is_past(words, rest):
        yield rest


def _return_of_fault(words: Sequence[Word]) -> int:
    """Return where a text tells that an earlier fault is back ("same thing again"), 0 if nowhere.

    Not so where it "isn't the same fault".
    """
    denied, last = False, 0
    for place, word in enumerate(words):
        denied = (denied or word.is_cue) and not word.is_mark
        if not denied and LISTS.phrase_at("returns", words, place):
            last = place
    return last


def _sentences(words: Sequence[Word]) -> Iterator[tuple[int, int]]:
    start = 0
    for place, word in enumerate(words):
        if word.is_mark and word.text in _SENTENCE_ENDS:
            yield start, place
            start = place + 1
    yield start, len(words)


def _clauses(words: Sequence[Word], start: int, end: int) -> Iterator[Clause]:
    """Cut a sentence at its marks, before "now" and where a conjunction opens a clause."""
    first = start
    for place in range(start, end):
        is_joint = words[place].text in LISTS.joints
        if words[place].is_mark or (is_joint and (place == first or _opens_clause(words, place, end))):
            if place > first:
                yield Clause(first, place)
            first = place + 1
        elif place > first and (
            _opens_now(words, place) or _runs_on(words, place, end) or _ends_time(words, place)
        ):
            yield Clause(first, place)
            first = place
    if end > first:
        yield Clause(first, end)


def _opens_now(words: Sequence[Word], place: int) -> bool:
    return words[place].text in LISTS.now or LISTS.phrase_at("now_phrases", words, place) > 0


def _opens_clause(words: Sequence[Word], joint: int, end: int) -> bool:
    if words[joint].text in LISTS.strong_joints or joint + 1 >= end:
        return True
    said = words[joint + 1].text
    return any(
        said in each for each in (LISTS.subjects, LISTS.determiners, LISTS.now, LISTS.finite, LISTS.noun_cues)
    )


def _runs_on(words: Sequence[Word], place: int, end: int) -> bool:
    """Tell whether "it" begins a new clause without a joint: "you fixed it last year it hums again"."""
    if words[place].text != "it" or place + 1 >= end:
        return False
    before, after = words[place - 1].text, words[place + 1].text
    if any(before in each for each in (LISTS.openers, LISTS.joints, LISTS.subordinators, LISTS.repairs)):
        return False
    is_verb = _may_be_verb(words[place + 1]) or after in LISTS.onset
    return is_verb and before not in LISTS.finite


def _ends_time(words: Sequence[Word], place: int) -> bool:
    """Tell whether the set is named anew right after a time: "you fixed it last year the set smokes"."""
    if words[place].text not in LISTS.definite:
        return False
    return any(
        LISTS.phrase_at("dated", words, place - length) == length for length in range(1, min(place, 4))
    )


def _is_now(words: Sequence[Word], clause: Clause) -> bool:
    return _opens_now(words, clause.start)


def _is_past(words: Sequence[Word], clause: Clause) -> bool:
    if _is_now(words, clause):
        return False
    if _has_repair(words, clause) or _was_good(words, clause):
        return True
    time = _past_time(words, clause)
    if time is None:
        return False
    return LISTS.phrase_at("long_past", words, time) > 0 or not _has_word(words, clause, LISTS.onset)


def _past_time(words: Sequence[Word], clause: Clause) -> int | None:
    """Return the place of a phrase of past time; neither "since last year" nor "never used to" is one."""
    for place in range(clause.start, clause.end):
        habit = LISTS.phrase_at("habit", words, place)
        dated = LISTS.phrase_at("dated", words, place) or LISTS.phrase_at("long_past", words, place)
        if not dated:
            continue
        before = {word.text for word in words[max(clause.start, place - 3) : place]}
        if before & LISTS.lasting or (habit and before & LISTS.not_habit):
            continue
        if any(word.negated or word.text == "never" for word in words[clause.start : place]):
            continue
        return place
    return None


def _has_repair(words: Sequence[Word], clause: Clause) -> bool:
    """Tell whether somebody repaired something: "you fixed it", "it was changed"; not "screen fixed"."""
    for place in range(clause.start, clause.end):
        if LISTS.phrase_at("trials", words, place):
            return True
        if words[place].text not in LISTS.repairs:
            continue
        if place == clause.start:  # "Changed the batteries"
            return place + 1 < clause.end and words[place + 1].text in LISTS.determiners
        before = words[max(clause.start, place - 5) : place]
        if any(word.negated or word.text in LISTS.not_done for word in before):
            return False
        if any(word.text in LISTS.repairers or word.text in LISTS.passive for word in before):
            return True
    return False


def _is_time_alone(words: Sequence[Word], clause: Clause) -> bool:
    """Tell whether a clause only says when: "last year", "when it was new"."""
    short = clause.end - clause.start <= 4 or words[clause.start].text == "when"
    return short and _past_time(words, clause) is not None and not _has_repair(words, clause)


def _is_of_another(words: Sequence[Word], clause: Clause) -> bool:
    """Tell whether a clause is about another set: "the neighbour's does", "my old one did"."""
    start = clause.start
    alike = any(LISTS.phrase_at("as_well", words, clause.end - count) == count for count in (1, 2))
    if alike and not any(map(_may_be_verb, words[start + 1 : clause.end])):
        return False  # "the one in room 4 as well": it has the same fault
    length = LISTS.phrase_at("other_things", words, start)
    named = [LISTS.owning, LISTS.former, LISTS.sets]
    if all(word.text in names for word, names in zip(words[start : start + 3], named, strict=False)):
        length = length or 3
    if length:
        return start + length < clause.end and words[start + length].text not in LISTS.reporting
    place = _owner(words, clause)
    if place is None or place + 1 >= clause.end:
        return False
    owner, apostrophe, _ = words[place].text.partition("'")
    after = words[place + 1]
    if not apostrophe:
        return LISTS.phrase_at("owns_alike", words, place + 1) > 0
    if after.text in LISTS.reporting:
        return False
    return owner in LISTS.others or words[start].text == "at" or after.text == "one" or _may_be_verb(after)


def _owner(words: Sequence[Word], clause: Clause) -> int | None:
    """Return where somebody else is named at the start of a clause: "my sister's", "the neighbour"."""
    for place in range(clause.start, min(clause.start + 3, clause.end)):
        owner, _, genitive = words[place].text.partition("'")
        if (owner in LISTS.others or owner in LISTS.kin) and genitive in ("s", ""):
            return place
    return None


def _may_be_verb(word: Word) -> bool:
    return (
        word.negated or word.text in LISTS.finite or (len(word.text) > 3 and word.text.endswith(("s", "ed")))
    )


def _is_ours(words: Sequence[Word], clause: Clause) -> bool:
    return LISTS.phrase_at("ours", words, clause.start) > 0


def _was_good(words: Sequence[Word], clause: Clause) -> bool:
    """Tell whether the set once worked; not "it overheated when it was working"."""
    for place in range(clause.start, clause.end):
        if LISTS.phrase_at("good_then", words, place):
            before = words[max(clause.start, place - 3) : place]
            return not any(word.text in LISTS.during for word in before)
    return False


def _has_word(words: Sequence[Word], clause: Clause, wanted: frozenset[str]) -> bool:
    return any(word.text in wanted for word in words[clause.start : clause.end])


def _merged(words: Sequence[Word], clauses: Sequence[Clause]) -> list[Clause]:
    """Return clauses in order, neighbours with only a conjunction between them as one."""
    merged: list[Clause] = []
    for clause in clauses:
        if (
            merged
            and merged[-1].other == clause.other
            and all(word.text in LISTS.joints for word in words[merged[-1].end : clause.start])
        ):
            merged[-1] = merged[-1]._replace(end=clause.end)
        else:
            merged.append(clause)
    return merged
