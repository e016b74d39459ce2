"""Choose the past cases to show for a complaint, and say what they have in common with it."""

import re
from collections.abc import Mapping
from functools import partial

import numpy as np

from search.answering.answer import CaseHit
from search.causes.blink_likelihood import blink_likelihoods
from search.causes.odds import CauseOdds
from search.index.case_table import CaseTable, code_of
from search.index.snapshot import Snapshot
from search.reading.complaint import Reading
from search.reading.plain_form import CONCEPT_MARK
from search.reading.text import stem
from search.scoring.bm25f import Collection, top
from search.stats.arrays import BoolArray, IntArray

# A past case without a word in common is shown if its meaning or its blinks are this near; chosen by us.
NEAR_IN_LIKENESS = 0.15
NEAR_IN_BLINKS = 0.3
BAD_NOTES_LISTED = 3  # chosen by us: enough as a reminder to mend them
_WORD = re.compile(r"[^\W\d_][\w'’-]*")  # noqa: RUF001


def past_cases(
    reading: Reading, snapshot: Snapshot, odds: CauseOdds, words: Collection, limit: int, ruled_out: IntArray
) -> tuple[CaseHit, ...]:
    """Return past cases, best first (ties: newest, then by number), then unreadable notes with common words.

    ruled_out: codes of causes whose cases are left out.
    """
    table = snapshot.table
    alike = _has_something_in_common(reading, table, odds, words) & ~np.isin(table.cause, ruled_out)
    rows = top(np.where(alike, odds.case_weight, 0.0), table.date_days, table.ids, limit)
    readable = int(np.count_nonzero(table.alive & table.readable))
    mean = float(odds.case_weight.sum()) / max(readable, 1)
    common = _common_terms(reading, words, rows)
    hits = [_hit(table, reading, odds, row, mean, terms) for row, terms in common.items()]
    bad = table.alive & ~table.readable
    if bad.any():
        words = Collection(snapshot.source, bad)
        rows = top(words.scores(reading.terms), table.date_days, table.paths, min(limit, BAD_NOTES_LISTED))
        for row, terms in _common_terms(reading, words, rows).items():
            matched = partial(_matched, table.note(row).body, terms)
            hits.append(CaseHit(file=table.paths[row], score=0.0, compare=matched))
    return tuple(hits)


def _has_something_in_common(
    reading: Reading, table: CaseTable, odds: CauseOdds, words: Collection
) -> BoolArray:
    """Tell which past cases share a word, meaning, blinks or the family with the complaint; (size,).

    A complaint that tells nothing of the fault is compared by make and device; without these, all cases
    count.
    """
    common: BoolArray = odds.word_similarity > 0
    for term in reading.device_terms:  # the odds leave these out, as they tell nothing of the fault
        common[words.having(term)] = True
    if reading.blinks is not None:
        near = blink_likelihoods(table.blink_code, table.blink_patterns, reading.blinks) >= NEAR_IN_BLINKS
        common |= (table.blink_code >= 0) & near
    common |= table.family == code_of(table.family_names, reading.family)
    if reading.terms:
        common |= odds.similarity >= NEAR_IN_LIKENESS
    elif reading.blinks is None and not reading.family:
        common |= table.make == code_of(table.make_names, reading.make)
        common |= table.device == code_of(table.device_names, reading.device)
        common |= not common.any()
    return common


def _common_terms(reading: Reading, words: Collection, rows: IntArray) -> Mapping[int, Mapping[str, str]]:
    """Return by row: the searched terms that its note has, each with the words said for it."""
    common: dict[int, dict[str, str]] = {row: {} for row in rows.tolist()}
    for term in reading.terms:
        holding = words.having(term.term)
        if holding.size:
            place = np.searchsorted(holding, rows).clip(max=holding.size - 1)
            for row in rows[holding[place] == rows].tolist():
                common[row][term.term] = term.said
    return common


def _matched(text: str, common: Mapping[str, str]) -> tuple[str, ...]:
    """Return the searched words as the note spells them, then concepts, values and names."""
    words = {word: form for word in _WORD.findall(text.lower()) if (form := stem(word)) in common}
    others = [
        term.removeprefix(CONCEPT_MARK) if term.startswith(CONCEPT_MARK) else said
        for term, said in common.items()
        if term not in words.values()
    ]
    return tuple(dict.fromkeys((*words, *others)))


def _hit(
    table: CaseTable, reading: Reading, odds: CauseOdds, row: int, mean: float, common: Mapping[str, str]
) -> CaseHit:
    """Return a past case as it is shown. mean: weight of an average case."""
    note, weight = table.note(row), float(odds.case_weight[row])

    def compare() -> tuple[str, ...]:
        said = ". ".join((note.complaint, *note.symptom, note.root_cause, note.fix, *note.parts, note.body))
        matched = [*_matched(said, common)]
        if reading.family and note.chassis_family == reading.family:
            matched.append(note.chassis_family)
        if reading.blinks and note.blinks and reading.blinks.shares_count(note.blinks):
            matched.append(f"blinks {note.blinks}")
        return tuple(dict.fromkeys(matched))

    score = float(np.log(weight / mean)) if weight > 0 and mean > 0 else 0.0
    return CaseHit(file=table.paths[row], score=score, compare=compare, note=note)
