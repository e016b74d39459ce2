"""Find what a complaint tells of the past or of another set: no evidence about the fault at hand."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from search.reading.clauses import begins_anew, opens_after
from search.reading.scope_words import Word, phrase_at

_SENTENCE_ENDS = frozenset((*".!?\n\u2026", ""))
_VERB_WITHIN = 4  # words from the subject of a relative clause to its verb; chosen by us


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
    clauses = list(_clauses(words))
    past = [_is_past(words, clause) for clause in clauses]
    other = [_is_of_another(words, clause) for clause in clauses]
    for place, (clause, after) in enumerate(itertools.pairwise(clauses)):
        if any(word.text in _SENTENCE_ENDS for word in words[clause.end : after.start]):
            continue
        if _is_time_alone(words, clause) and not _is_now(words, after):
            past[place + 1] = True  # "last year, you fixed the fuse"
        after_it = _is_now(words, after) or _has_repair(words, after)
        if after_it and _past_time(words, clause) is not None:
            past[place] = True  # "it blew the plug in spring, now it ticks"
        if phrase_at("ours", words, after.start) and (
            _has(words, clause, "likewise") or _owner(words, clause) is not None
        ):
            other[place] = True  # "the set upstairs does it too, but this one hums"
    for clause, is_other, is_past in zip(clauses, other, past, strict=True):
        if is_other:
            yield clause._replace(other=True)
        elif is_past and (clause.end > returned or _was_good(words, clause)):
            yield _past_inside(words, clause) or clause


def _return_of_fault(words: Sequence[Word]) -> int:
    """Return where a text tells that an earlier fault is back ("same thing again"), 0 if nowhere.

    Not so where it "isn't the same fault".
    """
    denied, last = False, 0
    for place, word in enumerate(words):
        denied = (denied or word.is_cue) and not word.is_mark
        if not denied and phrase_at("returns", words, place):
            last = place
    return last


def _clauses(words: Sequence[Word]) -> Iterator[Clause]:
    first = 1
    for place in range(1, len(words)):
        word = words[place]
        is_joint = word.among("joints") and (
            place == first or word.among("strong_joints") or opens_after(words, first, place)
        )
        if word.is_mark or is_joint or (place > first and begins_anew(words, first, place)):
            if place > first:
                yield Clause(first, place)
            first = place + 1 if word.is_mark or is_joint else place


def _is_now(words: Sequence[Word], clause: Clause) -> bool:
    return words[clause.start].among("now") or phrase_at("now_phrases", words, clause.start) > 0


def _is_past(words: Sequence[Word], clause: Clause) -> bool:
    if _is_now(words, clause):
        return False
    if _has_repair(words, clause) or _was_good(words, clause):
        return True
    time = _past_time(words, clause)
    return time is not None and (phrase_at("long_past", words, time) > 0 or not _has(words, clause, "onset"))


def _past_time(words: Sequence[Word], clause: Clause) -> int | None:
    """Return the place of a phrase of past time; neither "since last year" nor "never used to" is one."""
    for place in range(clause.start, clause.end):
        if words[place].negated or words[place].text == "never":
            return None
        habit = phrase_at("habit", words, place)
        if not phrase_at("dated", words, place) and not phrase_at("long_past", words, place):
            continue
        before = words[max(clause.start, place - 3) : place]
        if not any(word.among("lasting") or (habit and word.among("not_habit")) for word in before):
            return place
    return None


def _has_repair(words: Sequence[Word], clause: Clause) -> bool:
    """Tell whether somebody repaired something: "you fixed it", "it was changed"; not "screen fixed"."""
    for place in range(clause.start, clause.end):
        if phrase_at("trials", words, place):
            return True
        if not words[place].among("repairs"):
            continue
        if place == clause.start:  # "Changed the batteries"
            return words[place + 1].among("determiners")
        before = words[max(clause.start, place - 5) : place]
        if any(word.negated or word.among("not_done") for word in before):
            return False
        if any(word.among("repairers", "passive") for word in before):
            return True
    return False


def _is_time_alone(words: Sequence[Word], clause: Clause) -> bool:
    """Tell whether a clause only says when: "last year", "when it was new", "before you changed the belt"."""
    repaired = _has_repair(words, clause)
    if words[clause.start].among("earlier"):
        return repaired or _past_time(words, clause) is not None
    short = clause.end - clause.start <= 4 or words[clause.start].text == "when"
    return short and not repaired and _past_time(words, clause) is not None


def _was_good(words: Sequence[Word], clause: Clause) -> bool:
    """Tell whether the set once worked; not "it overheated when it was working"."""
    for place in range(clause.start, clause.end):
        if phrase_at("good_then", words, place):
            return not any(word.among("during") for word in words[max(clause.start, place - 3) : place])
    return False


def _is_of_another(words: Sequence[Word], clause: Clause) -> bool:
    """Tell whether a clause is about another set: "the neighbour's does", "my old one did"."""
    start = clause.start
    alike = any(phrase_at("as_well", words, clause.end - count) == count for count in (1, 2))
    if alike and not any(word.among("verbal") for word in words[start + 1 : clause.end]):
        return False  # "the one in room 4 as well": it has the same fault
    for place in range(start, min(start + 3, clause.end)):
        length = phrase_at("other_sets", words, place)
        if length:
            after = words[place + length]
            told = place + length < clause.end or words[clause.end - 1].among("verbal")
            return told and not after.among("reporting")
    return False


def _owner(words: Sequence[Word], clause: Clause) -> int | None:
    """Return where somebody else is named at the start of a clause: "my sister's", "the neighbour"."""
    places = range(clause.start, min(clause.start + 3, clause.end))
    return next((place for place in places if words[place].among("people", "people's")), None)


def _has(words: Sequence[Word], clause: Clause, name: str) -> bool:
    return any(word.among(name) for word in words[clause.start : clause.end])


def _past_inside(words: Sequence[Word], clause: Clause) -> Clause | None:
    """Return where a clause about now tells of a repair or a purchase: "the hob [you mended] smells".

    It begins after the set it tells of and ends before the verb of the clause around it, so that neither the
    set nor its fault of today is lost.
    """
    for place in range(clause.start, clause.end):
        verb = _past_verb(words, place, clause.end) if _may_end_a_name(words[place - 1]) else None
        if verb is not None:
            return Clause(place, _main_verb(words, verb + 1, clause.end))
    return None


def _may_end_a_name(word: Word) -> bool:
    """Tell whether a word may be the last of what is named: no mark and no small word."""
    return not word.is_mark and not word.among(
        "finite", "prepositions", "determiners", "openers", "subordinators", "joints", "circumstances",
        "repairs", "enders", "lasting", "relatives", "subjects", "when", "years", "periods"
    )  # fmt: skip


def _past_verb(words: Sequence[Word], place: int, end: int) -> int | None:
    """Return the past verb of a relative clause that begins here: "that you mended", "repaired here"."""
    if words[place].among("repairs"):  # "the telly repaired here"; not "my brother changed the fuse"
        after = words[place + 1]
        told = after.among("prepositions") or after.text == "here" or phrase_at("dated", words, place + 1)
        return place if told and not words[place - 1].among("repairers") else None
    first = place + 1 if words[place].among("relatives") else place
    passive = place < first < end and words[first].among("passive")  # "that was mended", not "that died"
    named = words[first].among("determiners", "subjects")  # "my husband", "you"
    if not passive and not (named and any(word.among("repairers") for word in words[first : first + 2])):
        return None
    for verb in range(first + 1, min(first + _VERB_WITHIN, end)):
        if words[verb].among("repairs") or (words[verb].among("getting") and not passive):
            return verb
    return None


def _main_verb(words: Sequence[Word], place: int, end: int) -> int:
    """Return where the verb of the clause around begins, or what is said without one: "noisy again"."""
    after_for = False
    while place < end:
        word, before = words[place], words[place - 1]
        after_for = after_for or word.text == "for"
        dated = phrase_at("dated", words, place)
        if not dated and not before.among("determiners"):
            verb = word.among("finite", "onset", "breaks_out") and not word.among("repairs")
            if verb or (word.among("faults", "functions") and not after_for and not before.among("repairs")):
                return place
        place += max(dated, 1)
    return end
