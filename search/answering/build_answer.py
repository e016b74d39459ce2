"""Put an answer together: what the causes' odds mean at the bench, with the notes that say so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from search.answering.answer import (
    Advice,
    Answer,
    CaseHit,
    CauseAnswer,
    Caution,
    CheckAnswer,
    FamilyShare,
)
from search.answering.blink_record import blink_records
from search.answering.knowledge import CauseProfile, Knowledge, Ruling
from search.causes.odds import CauseOdds
from search.index.case_table import CaseTable
from search.planning.bench_time import BenchTime, causes_in_order, expected_bench_time
from search.planning.checks import DEFAULT_OPENING_MIN, Check, Order, is_inside, order_checks
from search.reading.complaint import Reading
from search.scoring.highlight import matched_words
from search.stats.arrays import FloatArray, IntArray

# All chosen by us.
CAUSES_NAMED = 200  # more would be a list nobody reads; the rest is summed up as "other causes"
CAUSES_CHECKED = 12  # checks to put in order; nobody does more before thinking again
WORTH_A_CHECK = 0.01  # a cause less likely than this is not worth anybody's minutes
EVIDENCE_LISTED = 50  # case ids named for one cause
FAMILY_SHARE = 0.2  # a family that gives this share of the evidence has its advice shown
BAD_NOTES_LISTED = 3
DEFAULT_CAUTIONS = ("mains", "stored charge")  # nobody knows yet what stands on the bench
CAUSES_WARNED_OF = 5  # the likeliest causes, whose hazards are told
LIKELY_ENOUGH_TO_WARN = 0.1  # a cause's hazards stand beside the set's own from this probability on


def put_together(
    knowledge: Knowledge,
    reading: Reading,
    odds: CauseOdds,
    *,
    ruling: Ruling,
    hits: IntArray,
    bad_notes: IntArray,
    notices: Sequence[str],
) -> Answer:
    """Return the answer to one complaint.

    odds: of the causes, ruled-out ones at 0. hits: rows of past cases to show, best first.
    bad_notes: rows of notes that cannot be read but share words with the complaint.
    """
    families = _family_shares(knowledge, reading, odds)
    telling = [each.chassis_family for each in families if each.share >= FAMILY_SHARE]
    likely = [knowledge.families[name] for name in telling if name in knowledge.families]
    named = _likeliest(odds.probability, CAUSES_NAMED)
    opening_min, assumed = _opening(knowledge, families)
    worth = [code for code in named[:CAUSES_CHECKED] if odds.probability[code] >= WORTH_A_CHECK]
    checked = worth or named[:1]
    profiles = knowledge.profiles(named, odds, reading.family)
    order = _order(knowledge, odds.probability, {code: profiles[code] for code in checked}, opening_min)
    causes = tuple(_cause(knowledge, odds, code, profiles[code]) for code in named)
    warned = [(float(odds.probability[code]), profiles[code]) for code in named[:CAUSES_WARNED_OF]]
    rest = float(odds.probability.sum()) - sum(cause.probability for cause in causes)
    said = bool(reading.family)
    return Answer(
        reading=reading,
        caution=_cautions(knowledge, likely, warned, said=said),
        before_power=_advice(likely, "before_power", said=said),
        tell_owner=_advice(likely, "tell_owner", said=said),
        while_open=_advice(likely, "while_open", said=said),
        families=families,
        causes=causes,
        other_causes=max(0.0, rest) if len(named) == CAUSES_NAMED else 0.0,
        not_in_notebook=odds.not_in_notebook,
        ruled_out=ruling.names,
        checks=_checks(order, profiles),
        opening_min=opening_min,
        opening_assumed=assumed,
        expected_minutes=order.order.expected_minutes if order.codes else None,
        naive_minutes=order.order.naive_minutes if order.codes else None,
        bench_time=_bench_time(knowledge, order, {code: profiles[code] for code in checked})
        if order.codes
        else None,
        cases=(
            *(_hit(knowledge, reading, odds, row) for row in hits.tolist()),
            *(_bad_note(knowledge, reading, row) for row in bad_notes.tolist()[:BAD_NOTES_LISTED]),
        ),
        notices=tuple(notices),
        took_ms=0.0,
        blink_records=blink_records(knowledge.table, knowledge.families, reading),
    )


@dataclass(frozen=True, kw_only=True)
class _Ordered:
    """The order of checks, and the cause code of each in that order."""

    order: Order
    codes: list[int]


def _order(
    knowledge: Knowledge, probability: FloatArray, profiles: Mapping[int, CauseProfile], opening_min: float
) -> _Ordered:
    times = knowledge.basis.checks
    codes = list(profiles)
    checks = []
    for code, profile in profiles.items():
        checks.append(
            Check(
                root_cause=knowledge.table.cause_names[code],
                probability=float(probability[code]),
                minutes=float(times.minutes[code]),
                inside=is_inside(profile.check, profile.board),
                assumed=bool(times.assumed[code]),
            )
        )
    order = order_checks(checks, opening_min=opening_min)
    return _Ordered(order=order, codes=[codes[place] for place in order.places])


def _bench_time(
    knowledge: Knowledge, ordered: _Ordered, profiles: Mapping[int, CauseProfile]
) -> BenchTime | None:
    """Return the bench time to expect. profiles: of the causes in the order given to order_checks."""
    order = ordered.order
    # What was found with the set closed and took no part (a lock, a filter) is mended with the set closed.
    fixed_inside = [bool(profile.parts) and is_inside("", profile.board) for profile in profiles.values()]
    fix_times = [knowledge.fix_times(code) for code in profiles]
    times = causes_in_order(order, fix_times, fixed_inside=fixed_inside)
    still_closed = not any(order.opened)
    return expected_bench_time(
        times,
        not_in_notebook=max(0.0, 1.0 - sum(check.probability for check in order.checks)),
        all_checks_min=order.total_minutes + (order.opening_min if still_closed else 0.0),
        spread=knowledge.basis.spread,
    )


def _checks(ordered: _Ordered, profiles: Mapping[int, CauseProfile]) -> tuple[CheckAnswer, ...]:
    return tuple(
        CheckAnswer(
            root_cause=check.root_cause,
            check=profiles[code].check,
            minutes=check.minutes,
            probability=check.probability,
            inside=check.inside,
            assumed=check.assumed,
        )
        for check, code in zip(ordered.order.checks, ordered.codes, strict=True)
    )


def _cause(knowledge: Knowledge, odds: CauseOdds, code: int, profile: CauseProfile) -> CauseAnswer:
    table = knowledge.table
    rows = knowledge.rows_of_cause(code)
    weightiest = rows[np.lexsort((-table.date_days[rows], -odds.case_weight[rows]))][:EVIDENCE_LISTED]
    times = knowledge.fix_times(code)
    return CauseAnswer(
        root_cause=table.cause_names[code],
        probability=float(odds.probability[code]),
        cases=len(rows),
        fixed=int(np.count_nonzero(knowledge.fixed[rows])),
        fix_time_min=float(np.median(times)) if times.size else None,
        check=profile.check,
        check_time_min=float(knowledge.basis.checks.minutes[code]),
        check_time_assumed=bool(knowledge.basis.checks.assumed[code]),
        board=profile.board,
        proof=profile.proof,
        parts=profile.parts,
        evidence=tuple(table.ids[row] for row in weightiest.tolist()),
        by_family=_by_family(table, rows),
    )


def _by_family(table: CaseTable, rows: IntArray) -> tuple[tuple[str, int], ...]:
    codes, counts = np.unique(table.family[rows], return_counts=True)
    met = [
        (table.family_names[code], count)
        for code, count in zip(codes.tolist(), counts.tolist(), strict=True)
        if code >= 0
    ]
    return tuple(sorted(met, key=lambda each: (-each[1], each[0])))


def _family_shares(knowledge: Knowledge, reading: Reading, odds: CauseOdds) -> tuple[FamilyShare, ...]:
    """Return which family it may be; only the one that was said, when one was.

    Each cause hands its probability to its cases by their weight. The weights alone would say more than the
    probabilities do: they know nothing of the doubt that is mixed in afterwards.
    """
    if reading.family:
        return (FamilyShare(chassis_family=reading.family, share=1.0),)
    if not reading.terms and reading.blinks is None:
        return ()
    codes, causes = knowledge.table.family, knowledge.table.cause
    known = (codes >= 0) & (causes >= 0)
    codes, causes, weight = codes[known], causes[known], odds.case_weight[known]
    total_of = np.bincount(causes, weights=weight, minlength=len(odds.probability))
    handed = np.divide(odds.probability, total_of, out=np.zeros(len(total_of)), where=total_of > 0)
    sums = np.bincount(codes, weights=weight * handed[causes], minlength=len(knowledge.table.family_names))
    total = float(sums.sum())
    if total <= 0:
        return ()
    return tuple(
        FamilyShare(chassis_family=knowledge.table.family_names[code], share=float(sums[code]) / total)
        for code in np.argsort(-sums, kind="stable").tolist()
        if sums[code] >= total / 100
    )


def _opening(knowledge: Knowledge, families: Sequence[FamilyShare]) -> tuple[float, bool]:
    """Return minutes to open the set, and whether that is a guess from other families."""
    for each in families:
        note = knowledge.families.get(each.chassis_family)
        if note is not None and note.opening_time_min is not None:
            return float(note.opening_time_min), False
        break
    known = [
        note.opening_time_min for note in knowledge.families.values() if note.opening_time_min is not None
    ]
    return (float(np.median(known)) if known else DEFAULT_OPENING_MIN), True


def _likeliest(probability: FloatArray, limit: int) -> list[int]:
    """Return the codes of the likeliest causes with any chance; ties: the smaller code."""
    order = np.argsort(-probability, kind="stable")[:limit]
    return [code for code in order.tolist() if probability[code] > 0]


def _cautions(
    knowledge: Knowledge,
    families: Sequence[FamilyNote],
    causes: Sequence[tuple[float, CauseProfile]],
    *,
    said: bool,
) -> tuple[Caution, ...]:
    """Return the hazards of the likely families, then of the likely causes, then of the possible ones.

    What kills in every set is among the likely ones unless the note of the family said has its own list.
    """
    likely = [kind for family in families for kind in family.caution]
    possible: list[str] = []
    for probability, profile in causes:
        if probability >= LIKELY_ENOUGH_TO_WARN:
            likely += profile.caution
        elif probability >= WORTH_A_CHECK:
            possible += profile.caution
    if not (said and any(family.caution for family in families)):
        likely += DEFAULT_CAUTIONS
    lethal = [kind for kind in possible if kind in DEFAULT_CAUTIONS]
    leading = dict.fromkeys([*likely, *lethal])
    return tuple(
        Caution(kind=kind, says=knowledge.vocabulary.caution_sentence(kind), likely=kind in leading)
        for kind in dict.fromkeys([*leading, *possible])
    )


def _advice(families: Sequence[FamilyNote], field: str, *, said: bool) -> tuple[Advice, ...]:
    """Return the lines of family notes; a family that is only likely is named with each."""
    return tuple(
        Advice(line, "" if said else family.chassis_family)
        for family in families
        for line in getattr(family, field)
    )


def _hit(knowledge: Knowledge, reading: Reading, odds: CauseOdds, row: int) -> CaseHit:
    note = knowledge.table.note(row)
    mean = float(odds.case_weight[knowledge.basis.readable].mean())
    weight = float(odds.case_weight[row])
    said = ". ".join((note.complaint, *note.symptom, note.root_cause, note.fix, *note.parts, note.body))
    matched = matched_words(said, {term.term for term in reading.terms}, knowledge.finder)
    if reading.family and note.chassis_family == reading.family:
        matched.append(note.chassis_family)
    if reading.blinks is not None and note.blinks is not None and _shares_count(reading, note.blinks):
        matched.append(f"blinks {note.blinks}")
    return CaseHit(
        case=note.case,
        file=knowledge.table.paths[row],
        score=float(np.log(weight / mean)) if weight > 0 and mean > 0 else 0.0,
        date=note.date,
        device=note.device,
        make=note.make,
        model=note.model,
        chassis_family=note.chassis_family,
        complaint=note.complaint,
        symptom=note.symptom,
        blinks=str(note.blinks or ""),
        root_cause=note.root_cause,
        board=note.board,
        fix=note.fix,
        fix_time_min=note.fix_time_min,
        outcome=str(note.outcome),
        comeback_of=note.comeback_of,
        matched=tuple(dict.fromkeys(matched)),
        readable=True,
    )


def _shares_count(reading: Reading, recorded: BlinkPattern) -> bool:
    return reading.blinks is not None and bool(set(reading.blinks.alternatives) & set(recorded.alternatives))


def _bad_note(knowledge: Knowledge, reading: Reading, row: int) -> CaseHit:
    body = knowledge.table.note(row).body
    blank = dict.fromkeys(
        ("device", "make", "model", "chassis_family", "complaint", "blinks", "root_cause", "board", "fix",
         "outcome", "comeback_of"), ""
    )  # fmt: skip
    return CaseHit(
        case="",
        file=knowledge.table.paths[row],
        score=0.0,
        date=None,
        symptom=(),
        fix_time_min=None,
        matched=tuple(matched_words(body, {term.term for term in reading.terms}, knowledge.finder)),
        readable=False,
        **blank,
    )
