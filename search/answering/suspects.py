"""The likeliest causes of an answer, with what their notes say: spellings of one cause pooled."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from search.answering.answer import CauseAnswer
from search.answering.knowledge import Knowledge
from search.causes.odds import CauseOdds
from search.causes.similar_causes import pool_causes
from search.index.case_table import CaseTable, code_of
from search.reading.complaint import Reading
from search.stats.arrays import BoolArray, IntArray

# All chosen by us.
CAUSES_LISTED = 20  # more would be a list nobody reads; the rest is summed up as "other causes"
EVIDENCE_LISTED = 50  # case ids named for one cause
CAUSES_POOLED = 60  # a spelling behind these adds nothing that is seen


def suspects_of(knowledge: Knowledge, reading: Reading, odds: CauseOdds) -> list[CauseAnswer]:
    """Return the likeliest causes with any chance, those of another device last; ties: the smaller code."""
    chance, met = odds.probability, _met(knowledge, reading)
    likely = [
        code for code in np.argsort(-chance, kind="stable")[:CAUSES_POOLED].tolist() if chance[code] > 0
    ]
    groups = [list(codes) for codes in pool_causes(knowledge.table, likely)]
    groups.sort(key=lambda codes: (not met[codes].any(), -chance[codes].sum()))
    return [
        _suspect(knowledge, reading, odds, codes, other_device=not met[codes].any())
        for codes in groups[:CAUSES_LISTED]
    ]


def _met(knowledge: Knowledge, reading: Reading) -> BoolArray:
    """Tell which causes were met in the device that was said, or in one that it can be; (n_causes,)."""
    table = knowledge.table
    names = [reading.device] if reading.device else reading.may_be
    if not names:
        return np.ones(len(table.cause_names), np.bool_)
    devices = [code for name in names for code in knowledge.device_codes(name)]
    met = np.zeros(len(table.cause_names) + 1, np.bool_)  # the last is for rows without a cause
    met[table.cause[np.isin(table.device, devices)]] = True
    return met[:-1]


def _suspect(
    knowledge: Knowledge, reading: Reading, odds: CauseOdds, pooled: Sequence[int], *, other_device: bool
) -> CauseAnswer:
    """Describe a cause as in the family that was said, else as in that of its weightiest case."""
    table, cases = knowledge.table, knowledge.cases_of_cause
    codes = tuple(sorted(pooled, key=lambda code: (-cases[code], code)))
    weightiest = _weightiest(knowledge.rows_of(codes), odds, table)
    said = code_of(table.family_names, reading.family)
    profile = knowledge.profile(codes, said if said >= 0 else int(table.family[weightiest[0]]))
    probability = float(odds.probability[list(codes)].sum())
    return replace(
        profile,
        check=replace(profile.check, probability=probability),
        probability=probability,
        evidence=tuple(table.ids[row] for row in weightiest.tolist()),
        other_device=other_device,
    )


def _weightiest(rows: IntArray, odds: CauseOdds, table: CaseTable) -> IntArray:
    """Return the rows that weigh most, at most EVIDENCE_LISTED; ties: the newest first."""
    weight = odds.case_weight[rows]
    if len(rows) > EVIDENCE_LISTED:
        least = np.partition(weight, -EVIDENCE_LISTED)[-EVIDENCE_LISTED]
        rows, weight = rows[weight >= least], weight[weight >= least]
    order: IntArray = np.lexsort((-table.date_days[rows], -weight))[:EVIDENCE_LISTED]
    return rows[order]


def unlisted_share(odds: CauseOdds, suspects: Sequence[CauseAnswer]) -> float:
    """Return the probability of the causes that are not listed; exactly 0 where all are."""
    if sum(len(each.codes) for each in suspects) == np.count_nonzero(odds.probability):
        return 0.0
    return max(0.0, float(odds.probability.sum()) - sum(each.probability for each in suspects))
