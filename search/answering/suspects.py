"""The likeliest causes of an answer, with what their notes say: spellings of one cause pooled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kb.notes.case import Outcome
from search.answering.knowledge import CauseProfile, Codes, Knowledge
from search.causes.odds import CauseOdds
from search.causes.similar_causes import pool_causes
from search.families.case_group import CaseGroup
from search.index.case_table import CaseTable, code_of
from search.planning.checks import Check
from search.reading.complaint import Reading
from search.stats.arrays import IntArray

# Both chosen by us.
CAUSES_LISTED = 20  # more would be a list nobody reads; the rest is summed up as "other causes"
CAUSES_POOLED = 60  # a spelling behind these adds nothing that is seen


@dataclass(frozen=True, kw_only=True, eq=False)
class Suspect:
    """One likely cause.

    Attributes:
        codes: the table's codes of its spellings, the commonest first.
        name: its commonest spelling; spellings: the others.
        probability: of all spellings together.
        rows: its cases, the weightiest for this complaint first; ties: the newest first.
        profile: what its notes say of check, board, parts, proof and cautions.
        check: what tells whether it is the fault.
        other_device: whether it was never met in the device that was said, or in any that it can be.
    """

    codes: Codes
    name: str
    spellings: tuple[str, ...]
    probability: float
    rows: IntArray
    profile: CauseProfile
    check: Check
    other_device: bool


def suspects_of(knowledge: Knowledge, reading: Reading, odds: CauseOdds) -> list[Suspect]:
    """Return the likeliest causes with any chance, those of another device last; ties: the smaller code."""
    chance = odds.probability
    likely = [
        code for code in np.argsort(-chance, kind="stable")[:CAUSES_POOLED].tolist() if chance[code] > 0
    ]
    groups = pool_causes(knowledge.table, likely)
    groups.sort(key=lambda codes: (_elsewhere(knowledge, reading, codes), -chance[list(codes)].sum()))
    return [_suspect(knowledge, reading, odds, codes) for codes in groups[:CAUSES_LISTED]]


def _elsewhere(knowledge: Knowledge, reading: Reading, codes: Codes) -> bool:
    """Tell whether a cause was never met in the device that was said, or in any that it can be."""
    names = [reading.device] if reading.device else reading.may_be
    if not names:
        return False
    devices = [code for name in names for code in knowledge.device_codes(name)]
    return not np.isin(knowledge.table.device[knowledge.rows_of(codes)], devices).any()


def _suspect(knowledge: Knowledge, reading: Reading, odds: CauseOdds, pooled: Codes) -> Suspect:
    """Describe a cause as in the family that was said, else as in that of its weightiest case."""
    table = knowledge.table
    codes = tuple(sorted(pooled, key=lambda code: (-len(knowledge.rows_of((code,))), code)))
    rows = knowledge.rows_of(codes)
    rows = rows[np.lexsort((-table.date_days[rows], -odds.case_weight[rows]))]
    said = code_of(table.family_names, reading.family)
    profile = knowledge.profile(codes, said if said >= 0 else int(table.family[rows[0]]))
    probability = float(odds.probability[list(codes)].sum())
    return Suspect(
        codes=codes,
        name=table.cause_names[codes[0]],
        spellings=tuple(table.cause_names[code] for code in codes[1:]),
        probability=probability,
        rows=rows,
        profile=profile,
        check=CaseGroup(table, rows).check(
            codes[0],
            probability,
            says=profile.check,
            board=profile.board,
            parts=profile.parts,
            note=_check_note(table, rows),
        ),
        other_device=_elsewhere(knowledge, reading, codes),
    )


def _check_note(table: CaseTable, rows: IntArray) -> str:
    """Return what to know before trusting a check: that no case of its cause was ever fixed; else ""."""
    outcomes = {table.outcome_names[code] for code in table.outcome[rows].tolist()}
    if not outcomes <= {Outcome.NOT_FIXED, Outcome.NOT_ECONOMIC}:
        return ""
    count, fixed = len(rows), "worth fixing" if outcomes == {Outcome.NOT_ECONOMIC} else "fixed"
    return f"the only case was not {fixed}" if count == 1 else f"none of its {count} cases was {fixed}"


def unlisted_share(odds: CauseOdds, suspects: Sequence[Suspect]) -> float:
    """Return the probability of the causes that are not listed; exactly 0 where all are."""
    if sum(len(each.codes) for each in suspects) == np.count_nonzero(odds.probability):
        return 0.0
    return max(0.0, float(odds.probability.sum()) - sum(each.probability for each in suspects))
