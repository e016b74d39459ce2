"""Build an answer: what the causes' odds mean at the bench, with the notes that say so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from search.answering.advice import advice, cautions, cautions_of_device, family_shares, opening_minutes
from search.answering.answer import Answer, CaseHit, CauseAnswer, CheckAnswer, FamilyShare, Question
from search.answering.blink_record import blink_records
from search.answering.knowledge import Knowledge, Ruling
from search.answering.quote_condition import QuoteCondition, quote_condition
from search.answering.reasons import Reasons
from search.answering.suspects import Suspect, check_note, suspects_of, unlisted_share
from search.answering.telling_questions import questions_for
from search.causes.odds import CauseOdds
from search.index.case_table import code_of, counts_by_name
from search.planning.checks import Check
from search.planning.inside import fix_needs_opening, is_inside
from search.planning.job import JobPlan, SuspectedCause, plan_job
from search.reading.complaint import Reading

# All chosen by us.
CAUSES_CHECKED = 12  # checks to put in order; nobody does more before thinking again
WORTH_A_CHECK = 0.01  # a cause less likely than this is not worth anybody's minutes
EVIDENCE_LISTED = 50  # case ids named for one cause
FAMILY_SHARE = 0.2  # a family that gives this share of the evidence has its advice shown
CAUSES_WARNED_OF = 5  # the likeliest causes, whose hazards are told
OTHER_DEVICES = 0.05  # most that causes of other devices have together for a device without a case


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
        odds: of the causes, before anything is ruled out.
        ruling: what was ruled out.
        cases: past cases to show, best first.
        notices: sentences on the complaint and the notebook.
    """
    unmet = knowledge.unmet_device(reading)
    if unmet:
        return _answer_without_cases(knowledge, reading, odds, unmet, cases=cases, notices=notices)
    left = odds.without(ruling.codes)
    suspects = suspects_of(knowledge, reading, left)
    families = family_shares(knowledge, reading, left)
    ruled_out = float(odds.probability[ruling.codes].sum())
    condition = quote_condition(left, suspects, unmet_device="", ruled_out=ruled_out)
    reasons = Reasons(table=knowledge.table, reading=reading, counts=knowledge.counts)
    return Answer(
        reading=reading,
        causes=tuple(_cause(knowledge, each, reasons) for each in suspects),
        other_causes=unlisted_share(left, suspects),
        not_in_notebook=left.not_in_notebook,
        ruled_out=ruling.names,
        families=families,
        **_said_by_families(knowledge, reading, families, suspects),
        **_work(knowledge, _job(knowledge, reading, suspects, ruling, families), condition),
        cases=tuple(cases),
        notices=tuple(notices),
        took_ms=0.0,
        blink_records=blink_records(knowledge.table, knowledge.families, reading),
        questions=tuple(
            Question(concept=concept, question=wording, bits=bits)
            for concept, wording, bits in questions_for(knowledge.counts, reading, left, suspects)
        ),
    )


def _said_by_families(
    knowledge: Knowledge, reading: Reading, families: Sequence[FamilyShare], suspects: Sequence[Suspect]
) -> dict[str, Any]:
    """Return the cautions and the advice of an answer."""
    likely = [
        knowledge.families[each.chassis_family]
        for each in families
        if each.share >= FAMILY_SHARE and each.chassis_family in knowledge.families
    ]
    if reading.device and not reading.family:
        likely = [family for family in likely if knowledge.same_device(family.device, reading.device)]
    said = bool(reading.family)
    # What endangers people in another device does not in this one.
    warned = [
        (each.probability, each.profile) for each in suspects[:CAUSES_WARNED_OF] if not each.other_device
    ]
    fields = ("before_power", "tell_owner", "while_open")
    return {
        "caution": cautions(knowledge, reading, likely, warned),
        **{field: advice(likely, field, said=said) for field in fields},
    }


def _answer_without_cases(
    knowledge: Knowledge,
    reading: Reading,
    odds: CauseOdds,
    unmet_device: str,
    *,
    cases: Sequence[CaseHit],
    notices: Sequence[str],
) -> Answer:
    """Return the answer for a device that the notebook has no case of.

    No cause, check or advice of another device is shown, only that nothing is known, and the hazards.
    """
    others = min(float(odds.probability.sum()), OTHER_DEVICES)
    condition = quote_condition(odds, (), unmet_device=unmet_device, ruled_out=0.0)
    return Answer(
        reading=reading,
        caution=cautions_of_device(knowledge, reading),
        before_power=(),
        tell_owner=(),
        while_open=(),
        families=(),
        causes=(),
        other_causes=others,
        not_in_notebook=1.0 - others,
        ruled_out=(),
        checks=(),
        opening_min=0.0,
        opening_assumed=True,
        expected_minutes=None,
        naive_minutes=None,
        bench_time=None,
        cases=tuple(cases),
        notices=tuple(notices),
        took_ms=0.0,
        unmet_device=unmet_device,
        quote_condition=condition.says,
    )


@dataclass(frozen=True, kw_only=True)
class _Job:
    """The plan of a job, and the causes whose checks it orders."""

    plan: JobPlan
    checked: Sequence[Suspect]
    opening_assumed: bool
    already_open: bool


def _job(
    knowledge: Knowledge,
    reading: Reading,
    suspects: Sequence[Suspect],
    ruling: Ruling,
    families: Sequence[FamilyShare],
) -> _Job:
    """Plan the checks of the causes worth one, at least of the likeliest.

    Once a check inside was done, the set is open: opening is not charged again.
    """
    opening_min, assumed = opening_minutes(knowledge, families)
    family = code_of(knowledge.table.family_names, reading.family)
    done = [knowledge.profile((code,), family) for code in ruling.codes.tolist()]
    already_open = any(each.check and is_inside(each.check, each.board) for each in done)
    # A check made for another appliance cannot be done on this one.
    own = [each for each in suspects if not each.other_device]
    worth = [each for each in own[:CAUSES_CHECKED] if each.probability >= WORTH_A_CHECK]
    checked = worth or own[:1]
    plan = plan_job(
        [
            SuspectedCause(
                check=Check(
                    root_cause=each.name,
                    probability=each.probability,
                    minutes=each.check_min,
                    inside=each.inside,
                    assumed=each.check_assumed,
                ),
                fix_times_min=knowledge.fix_times(each.codes),
                fixed_inside=fix_needs_opening(each.profile.parts, each.profile.board),
            )
            for each in checked
        ],
        opening_min=0.0 if already_open else opening_min,
        not_in_notebook=max(0.0, 1.0 - sum(each.probability for each in checked)),
        spread=knowledge.basis.spread,
    )
    return _Job(plan=plan, checked=checked, opening_assumed=assumed, already_open=already_open)


def _work(knowledge: Knowledge, job: _Job, condition: QuoteCondition) -> dict[str, Any]:
    """Return the checks, times and price condition of an answer."""
    plan, any_check = job.plan, bool(job.checked)
    return {
        "checks": _checks(knowledge, job),
        "opening_min": plan.checks.opening_min,
        "opening_assumed": job.opening_assumed,
        "already_open": job.already_open,
        "expected_minutes": plan.checks.expected_minutes if any_check else None,
        "naive_minutes": plan.checks.naive_minutes if any_check else None,
        "bench_time": plan.bench_time if any_check and not condition.withheld else None,
        "quote_condition": condition.says,
    }


def _checks(knowledge: Knowledge, job: _Job) -> tuple[CheckAnswer, ...]:
    return tuple(
        CheckAnswer(
            root_cause=check.root_cause,
            check=job.checked[place].profile.check,
            minutes=check.minutes,
            probability=check.probability,
            inside=check.inside,
            assumed=check.assumed,
            note=check_note(knowledge, job.checked[place]),
        )
        for check, place in zip(job.plan.checks.checks, job.plan.checks.places, strict=True)
    )


def _cause(knowledge: Knowledge, suspect: Suspect, reasons: Reasons) -> CauseAnswer:
    table, profile, rows = knowledge.table, suspect.profile, suspect.rows
    times = knowledge.fix_times(suspect.codes)
    return CauseAnswer(
        root_cause=suspect.name,
        probability=suspect.probability,
        cases=len(rows),
        fixed=int(np.count_nonzero(table.fixed[rows])),
        fix_time_min=float(np.median(times)) if times.size else None,
        check=profile.check,
        check_time_min=suspect.check_min,
        check_time_assumed=suspect.check_assumed,
        board=profile.board,
        proof=profile.proof,
        parts=profile.parts,
        evidence=tuple(table.ids[row] for row in rows[:EVIDENCE_LISTED].tolist()),
        by_family=counts_by_name(table.family[rows], table.family_names),
        spellings=suspect.spellings,
        why=reasons.why(suspect),
        against=reasons.against(suspect),
    )
