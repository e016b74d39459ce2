"""Find what a complaint tells of the past or of another set: no evidence about the fault at hand."""

import itertools
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from search.reading.negations import begins_anew, opens_after
from search.reading.scope_words import SENTENCE_ENDS, Word, phrase_at

_TAKES_BACK_WITHIN = 3  # words before a phrase of the past; chosen by us

_PAST = ("dated", "long_past", "lasted", "good_then", "trials")
# After these words a phrase is not about the past: "since last year", "never used to".
_TAKES_BACK = ("lasting", "verb_cues", "during")
# Words of these lists do not end a thing's name.
_NO_NAMES = ("finite", "circumstances", "lasting", "subjects", "years", "periods")
_TIMES = frozenset(("dated", "long_past", "habit"))
_REPAIRS = frozenset(("trials", "repaired"))
_OTHERS = {"other": "other_sets", "placed": "placed_sets"}


class Clause(NamedTuple):
    """Hold the places of a clause in the word list, end exclusive. other: it is about another set."""

    start: int
    end: int
    other: bool = False


def past_clauses(words: Sequence[Word]) -> Iterator[Clause]:
    """Yield the clauses about the past or another set in order; a fault that has come back is not past.

    Source:
        "Historical" and "experiencer" as in ConText: Harkema, Dowling, Thornblade, Chapman, J. Biomedical
        Informatics 42 (2009) 839-851. Our scope is a clause, and "now" begins a new one.
    """
    returned = max((place for place in range(len(words)) if _returns(words, place)), default=0)
    told = [(clause, _told(words, clause)) for clause in _clauses(words)]
    for (clause, this), (after, that) in itertools.pairwise(told):
        if any(word.text in SENTENCE_ENDS for word in words[clause.end : after.start]):
            continue
        if "now" not in that and _only_says_when(words, clause, this):
            that.add("past")  # "last year, you fixed the fuse"
        if "accidents" not in this and this & {*_TIMES, "lasted"} and that & {"now", *_REPAIRS}:
            this.add("past")  # "it blew the plug in spring, now it ticks"
        if "ours" in that and this & {"likewise", "people"}:
            this.add("other")  # "the set upstairs does it too, but this one hums"
    of_ours = any("ours" in this for _, this in told)
    for clause, this in told:
        if "other" in this or ("placed" in this and (of_ours or clause.start > 1)):
            yield clause._replace(other=True)
        elif "past" in this and (clause.end > returned or "good_then" in this):
            past = _past_inside(words, clause) or clause
            yield _till_then(words, past) if "good_then" in this else past


def _till_then(words: Sequence[Word], clause: Clause) -> Clause:
    """Cut off what ended a good time: "[it was fine] until the cat knocked it over"."""
    ends = (place for place in range(clause.start + 1, clause.end) if words[place].among("waits_for"))
    return clause._replace(end=next(ends, clause.end))


def _returns(words: Sequence[Word], place: int) -> bool:
    """Tell whether an earlier fault is said to be back: "same thing again"; not "it isn't the same fault"."""
    if not phrase_at("returns", words, place):
        return False
    before = reversed(words[max(place - _TAKES_BACK_WITHIN, 0) : place])
    return not any(word.is_cue for word in itertools.takewhile(lambda word: not word.is_mark, before))


def _clauses(words: Sequence[Word]) -> Iterator[Clause]:
    first = 1
    for place in range(1, len(words)):
        word, after = words[place], words[min(place + 1, len(words) - 1)]
        joins = word.among("joints") and (after.among("determiners") or opens_after(words, first, place))
        is_joint = word.is_mark or joins
        if is_joint or (place > first and _begins(words, first, place)):
            if place > first:
                yield Clause(first, place)
            first = place + is_joint


def _begins(words: Sequence[Word], first: int, place: int) -> bool:
    """Tell whether a clause begins without a mark: "takes nine minutes [used to take three]"."""
    used_to = words[place].text == "used" and words[place + 1].text == "to"
    what_is = used_to and any(word.among("finite") for word in words[first : place - 1])
    return what_is or begins_anew(words, first, place)


def _told(words: Sequence[Word], clause: Clause) -> set[str]:
    """Return what a clause says of its time and its set, as names of word lists."""
    start, end, _ = clause
    lists = set[str]().union(*(word.lists for word in words[start:end]))
    told = lists & {"onset", "likewise", "accidents"}
    if any(word.among("people", "people's") for word in words[start : min(start + 4, end)]):
        told.add("people")
    told.update(name for name in ("now", "ours") if phrase_at(name, words, start))
    for place in range(start, end):
        before = words[max(start, place - _TAKES_BACK_WITHIN) : place]
        if not any(word.among(*_TAKES_BACK) for word in before):
            told.update(name for name in _PAST if phrase_at(name, words, place))
            if phrase_at("habit", words, place) and not any(word.among("not_habit") for word in before):
                told.add("habit")
        if words[place].among("repairs") and _is_repaired(words, start, place):
            told.add("repaired")
    dated = "dated" in told and not told & {"onset", "accidents"}
    if "now" not in told and (dated or told & {"long_past", "habit", "good_then", *_REPAIRS}):
        told.add("past")
    told.update(name for name, sets in _OTHERS.items() if _is_of(sets, words, clause))
    return told


def _is_repaired(words: Sequence[Word], start: int, place: int) -> bool:
    """Tell whether somebody repaired something: "you fixed it", "it was changed"; not "screen fixed"."""
    if place == start:  # "Changed the batteries"
        return words[place + 1].among("determiners")
    before = words[max(start, place - 5) : place]
    done = any(word.among("repairers", "passive") for word in before)
    return done and not any(word.among("not_done") for word in before)


def _only_says_when(words: Sequence[Word], clause: Clause, told: set[str]) -> bool:
    """Tell whether a clause only says when: "last year", "when it was new", "before you changed the belt"."""
    if words[clause.start].among("earlier"):
        return bool(told & {*_TIMES, *_REPAIRS})
    first = words[clause.start]  # "bought in 2016, the lamp blinks" tells of two times
    short = clause.end - clause.start <= 4 and not first.among("getting")
    return bool(told & _TIMES) and (short or first.text == "when")


def _is_of(sets: str, words: Sequence[Word], clause: Clause) -> bool:
    """Tell whether a clause is about sets of a list: "the neighbour's does", "my old one did"."""
    start, end = clause.start, clause.end
    firsts = ((place, phrase_at(sets, words, place)) for place in range(start, min(start + 3, end)))
    after = next((place + length for place, length in firsts if length), len(words))
    return after < end or (after == end and words[end - 1].among("verbal"))


def _past_inside(words: Sequence[Word], clause: Clause) -> Clause | None:
    """Return the part of a clause about now that tells of a repair: "the hob [you mended] smells"."""
    for place in range(clause.start, clause.end):
        length = phrase_at("told_inside", words, place)
        if length and not words[place - 1].among("marks", *_NO_NAMES):
            verbs = (
                after
                for after in range(place + length, clause.end)
                if words[after].among("finite", "breaks_out", "faults", "functions")
                and not words[after - 1].among("determiners", "prepositions")
            )
            return Clause(place, next(verbs, clause.end))  # or up to words without a verb: "noisy again"
    return None
