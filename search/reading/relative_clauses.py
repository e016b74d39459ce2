"""Find the past that is told inside a clause about now: "the hob [you repaired in spring] smells burnt"."""

from __future__ import annotations

from collections.abc import Sequence

from search.reading.denied_kinds import FAULT_STEMS, FUNCTION_STEMS
from search.reading.scope_words import LISTS, Word
from search.reading.text import stem

_VERBS = (LISTS.finite | LISTS.onset | LISTS.breaks_out) - LISTS.repairs
_VERB_WITHIN = 4  # words from the subject of such a clause to its verb; chosen by us


def past_inside(words: Sequence[Word], start: int, end: int) -> tuple[int, int] | None:
    """Return where a relative clause about a repair, a purchase or a visit lies within a clause.

    It begins after the set it tells of and ends before the verb of the clause around it, so that neither the
    set nor its fault of today is lost.
    """
    for place in range(start + 1, end):
        verb = _past_verb(words, place, end) if _may_end_a_name(words[place - 1]) else None
        if verb is not None:
            return place, _main_verb(words, verb + 1, end)
    return None


def _may_end_a_name(word: Word) -> bool:
    """Tell whether a word may be the last of what is named: no mark, verb, adverb of time or small word."""
    small = (
        LISTS.finite, LISTS.prepositions, LISTS.determiners, LISTS.openers, LISTS.subordinators, LISTS.joints,
        LISTS.circumstances, LISTS.repairs, LISTS.enders, LISTS.lasting, LISTS.relatives,
        LISTS.subjects - LISTS.determiners - {"one"},
    )  # fmt: skip
    return not (
        word.is_mark or word.is_cue or word.text in LISTS.when or any(word.text in each for each in small)
    )


def _past_verb(words: Sequence[Word], place: int, end: int) -> int | None:
    """Return the past verb of a relative clause that begins here: "that you mended", "repaired here"."""
    if words[place].text in LISTS.repairs:  # "the telly repaired here"; not "my brother changed the fuse"
        after = place + 1
        told = after < end and (words[after].text in LISTS.prepositions or words[after].text == "here")
        told = told or LISTS.phrase_at("dated", words, after) > 0
        return place if told and words[place - 1].text not in LISTS.repairers else None
    first = place + 1 if words[place].text in LISTS.relatives else place
    passive = place < first < end and words[first].text in LISTS.passive  # "that was mended", not "that died"
    if not passive and not _is_somebody(words, first, end):
        return None
    for verb in range(first + 1, min(first + _VERB_WITHIN, end)):
        if words[verb].is_mark or words[verb].negated:
            return None
        if words[verb].text in LISTS.repairs or (words[verb].text in LISTS.getting and not passive):
            return verb
    return None


def _is_somebody(words: Sequence[Word], place: int, end: int) -> bool:
    """Tell whether a subject begins here: "you", "my husband"."""
    if words[place].text in LISTS.determiners:
        return place + 1 < end and words[place + 1].text in LISTS.repairers
    return words[place].text in LISTS.repairers & LISTS.subjects


def _main_verb(words: Sequence[Word], place: int, end: int) -> int:
    """Return where the verb of the clause around begins, or what is said without one: "noisy again"."""
    after_for = False
    while place < end:
        skipped = LISTS.phrase_at("dated", words, place)
        word, before = words[place], words[place - 1]
        after_for = after_for or word.text == "for"
        named = before.text in LISTS.determiners or before.text in LISTS.prepositions or before.text.isdigit()
        if word.text in LISTS.now or LISTS.phrase_at("now_phrases", words, place):
            return place
        if not skipped and not named and (word.negated or word.text in _VERBS):
            return place
        told = not (skipped or named or after_for or before.text in LISTS.repairs)
        if told and stem(word.text) in FAULT_STEMS | FUNCTION_STEMS:
            return place
        place += max(skipped, 1)
    return end
