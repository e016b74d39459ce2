"""Build an answer: what the causes' odds mean at the bench, with the notes that say so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from search.answering.advice import advice, cautions, family_shares, opening_minutes
from search.answering.answer import Answer, CaseHit, CauseAnswer, CheckAnswer
from search.answering.blink_record import blink_records
from search.answering.knowledge import CauseProfile, Codes, Knowledge, Ruling
from search.causes.odds import CauseOdds
from search.index.case_table import code_of, counts_by_name
from search.planning.checks import Check
from search.planning.inside import fix_needs_opening, is_inside
from search.planning.job import JobPlan, SuspectedCause, plan_job
from search.reading.complaint import Reading

# All chosen by us.
CAUSES_LISTED = 20  # more would be a list nobody reads; the rest is summed up as "other causes"
CAUSES_CHECKED = 12  # checks to put in order; nobody does more before thinking again
WORTH_A_CHECK = 0.01  # a cause less likely than this is not worth anybody's minutes
EVIDENCE_LISTED = 50  # case ids named for one cause
FAMILY_SHARE = 0.2  # a family that gives this share of the evidence has its advice shown
CAUSES_WARNED_OF = 5  # the likeliest causes, whose hazards are told


@dataclass(frozen=True, kw_only=True)
class _Suspect:
    """One likely cause: the codes of its spellings, its name, its probability, what its notes say."""

    codes: Codes
    name: str
    probability: float
    profile: CauseProfile


def build_answer(
    knowledge: Knowledge,
    reading: Reading,
    odds: CauseOdds,
    *,
    ruling: Ruling,
    cases: Sequence[CaseHit],
    notices: Sequence[str],
) -> Answer:
    """Return the answer to one complaint.

    Args:
        knowledge: the notebook.
        reading: the complaint.
        odds: of the causes, ruled-out ones at 0.
        ruling: what was ruled out.
        cases: past cases to show, best first.
        notices: sentences on the complaint and the notebook.
    """
    families = family_shares(knowledge, reading, odds)
    likely = [
        knowledge.families[each.chassis_family]
        for each in families
        if each.share >= FAMILY_SHARE and each.chassis_family in knowledge.families
    ]
    suspects = _suspects(knowledge, reading, odds)
    opening_min, assumed = opening_minutes(knowledge, families)
    worth = [each for each in suspects[:CAUSES_CHECKED] if each.probability >= WORTH_A_CHECK]
    checked = worth or suspects[:1]
    plan = _plan(knowledge, checked, opening_min)
    warned = [(each.probability, each.profile) for each in suspects[:CAUSES_WARNED_OF]]
    said = bool(reading.family)
    return Answer(
        reading=reading,
        caution=cautions(knowledge, likely, warned, said=said),
        before_power=advice(likely, "before_power", said=said),
        tell_owner=advice(likely, "tell_owner", said=said),
        while_open=advice(likely, "while_open", said=said),
        families=families,
        causes=tuple(_cause(knowledge, odds, each) for each in suspects),
        other_causes=_rest(odds, suspects),
        not_in_notebook=odds.not_in_notebook,
        ruled_out=ruling.names,
        checks=_checks(plan, checked),
        opening_min=opening_min,
        opening_assumed=assumed,
        expected_minutes=plan.checks.expected_minutes if checked else None,
        naive_minutes=plan.checks.naive_minutes if checked else None,
        bench_time=plan.bench_time if checked else None,
        cases=tuple(cases),
        notices=tuple(notices),
        took_ms=0.0,
        blink_records=blink_records(knowledge.table, knowledge.families, reading),
    )


def _suspects(knowledge: Knowledge, reading: Reading, odds: CauseOdds) -> list[_Suspect]:
    """Return the likeliest causes with any chance; ties: the smaller code.

    A cause is described as in the family that was said, else as in that of its weightiest case.
    """
    table = knowledge.table
    said = code_of(table.family_names, reading.family)
    suspects = []
    for code in np.argsort(-odds.probability, kind="stable")[:CAUSES_LISTED].tolist():
        if odds.probability[code] <= 0:
            break
        rows = knowledge.rows_of((code,))
        near = said if said >= 0 else int(table.family[rows[np.argmax(odds.case_weight[rows])]])
        suspects.append(
            _Suspect(
                codes=(code,),
                name=table.cause_names[code],
                probability=float(odds.probability[code]),
                profile=knowledge.profile((code,), near),
            )
        )
    return suspects


def _rest(odds: CauseOdds, suspects: Sequence[_Suspect]) -> float:
    """Return the probability of the causes that are not listed; exactly 0 where all are."""
    listed = sum(len(each.codes) for each in suspects)
    if listed == np.count_nonzero(odds.probability):
        return 0.0
    return max(0.0, float(odds.probability.sum()) - sum(each.probability for each in suspects))


def _plan(knowledge: Knowledge, suspects: Sequence[_Suspect], opening_min: float) -> JobPlan:
    times = knowledge.basis.checks
    causes = [
        SuspectedCause(
            check=Check(
                root_cause=each.name,
                probability=each.probability,
                minutes=float(times.minutes[each.codes[0]]),
                inside=is_inside(each.profile.check, each.profile.board),
                assumed=bool(times.assumed[each.codes[0]]),
            ),
            fix_times_min=knowledge.fix_times(each.codes),
            fixed_inside=fix_needs_opening(each.profile.parts, each.profile.board),
        )
        for each in suspects
    ]
    return plan_job(
        causes,
        opening_min=opening_min,
        not_in_notebook=max(0.0, 1.0 - sum(each.probability for each in suspects)),
        spread=knowledge.basis.spread,
    )


def _checks(plan: JobPlan, suspects: Sequence[_Suspect]) -> tuple[CheckAnswer, ...]:
    return tuple(
        CheckAnswer(
            root_cause=check.root_cause,
            check=suspects[place].profile.check,
            minutes=check.minutes,
            probability=check.probability,
            inside=check.inside,
            assumed=check.assumed,
        )
        for check, place in zip(plan.checks.checks, plan.checks.places, strict=True)
    )


def _cause(knowledge: Knowledge, odds: CauseOdds, suspect: _Suspect) -> CauseAnswer:
    table, profile = knowledge.table, suspect.profile
    rows = knowledge.rows_of(suspect.codes)
    weightiest = rows[np.lexsort((-table.date_days[rows], -odds.case_weight[rows]))][:EVIDENCE_LISTED]
    times = knowledge.fix_times(suspect.codes)
    return CauseAnswer(
        root_cause=suspect.name,
        probability=suspect.probability,
        cases=len(rows),
        fixed=int(np.count_nonzero(table.fixed[rows])),
        fix_time_min=float(np.median(times)) if times.size else None,
        check=profile.check,
        check_time_min=float(knowledge.basis.checks.minutes[suspect.codes[0]]),
        check_time_assumed=bool(knowledge.basis.checks.assumed[suspect.codes[0]]),
        board=profile.board,
        proof=profile.proof,
        parts=profile.parts,
        evidence=tuple(table.ids[row] for row in weightiest.tolist()),
        by_family=counts_by_name(table.family[rows], table.family_names),
    )
