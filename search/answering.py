"""Put an answer together: what the causes' odds mean at the bench, with the notes that say so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from kb.blinks import BlinkPattern
from kb.case import Outcome
from kb.family import FamilyNote
from kb.terms import Vocabulary
from search.answer import Advice, Answer, CaseHit, CauseAnswer, Caution, CheckAnswer, FamilyShare
from search.arrays import BoolArray, FloatArray, IntArray
from search.basis import NotebookBasis, basis_of
from search.bench_time import BenchTime, causes_in_order, expected_bench_time
from search.causes import CauseOdds
from search.checks import DEFAULT_OPENING_MIN, Check, Order, is_inside, order_checks
from search.complaint import Reading
from search.concepts import ConceptFinder
from search.documents import cause_key
from search.matching import matched_words
from search.table import CaseTable

# All chosen by us.
CAUSES_NAMED = 200  # more would be a list nobody reads; the rest is summed up as "other causes"
CAUSES_CHECKED = 12  # checks to put in order; nobody does more before thinking again
WORTH_A_CHECK = 0.01  # a cause less likely than this is not worth anybody's minutes
EVIDENCE_LISTED = 50  # case ids named for one cause
FAMILY_SHARE = 0.2  # a family that gives this share of the evidence has its advice shown
NOTES_PER_PROFILE = 12  # newest notes of a cause to take its usual check, parts and proof from
PARTS_LISTED, PROOFS_LISTED, BAD_NOTES_LISTED = 6, 3, 3
DEFAULT_CAUTIONS = ("mains", "stored charge")  # nobody knows yet what stands on the bench
CAUSES_WARNED_OF = 5  # the likeliest causes, whose hazards are told
LIKELY_ENOUGH_TO_WARN = 0.1  # a cause's hazards stand beside the set's own from this probability on


@dataclass(frozen=True, kw_only=True)
class CauseProfile:
    """What the newest notes of one cause say of its check, board, parts and proof."""

    check: str
    board: str
    parts: tuple[str, ...]
    proof: tuple[str, ...]
    caution: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Ruling:
    """What the technician has already checked, as causes of the table: codes, and the names said."""

    codes: IntArray
    names: tuple[str, ...]
    unknown: tuple[str, ...]


class Knowledge:
    """One state of the notebook with all that answers need of it worked out once."""

    def __init__(
        self, table: CaseTable, families: dict[str, FamilyNote], vocabulary: Vocabulary, finder: ConceptFinder
    ) -> None:
        """Take one state of the index and the family notes beside it."""
        self.table = table
        self.families = families
        self.vocabulary = vocabulary
        self.finder = finder
        self._profiles: dict[int, CauseProfile] = {}

    @cached_property
    def basis(self) -> NotebookBasis:
        """Return the figures of the whole notebook that answers and family pages share."""
        return basis_of(self.table)

    @cached_property
    def fixed(self) -> BoolArray:
        """Tell which rows are cases that were fixed; shape (size,)."""
        names = self.table.outcome_names
        if Outcome.FIXED not in names:
            return np.zeros(self.table.size, np.bool_)
        mask: BoolArray = self.table.outcome == names.index(Outcome.FIXED)
        return mask

    @cached_property
    def _by_cause(self) -> tuple[IntArray, IntArray]:
        order = np.argsort(self.table.cause, kind="stable")
        edges = np.searchsorted(self.table.cause[order], np.arange(len(self.table.cause_names) + 1))
        return order, edges

    def rows_of_cause(self, cause: int) -> IntArray:
        """Return the rows of the cases with a cause."""
        order, edges = self._by_cause
        rows: IntArray = order[edges[cause] : edges[cause + 1]]
        return rows

    def fix_times(self, cause: int) -> FloatArray:
        """Return the fix times of a cause, minutes: of the repairs that were fixed, else of all tries."""
        rows = self.rows_of_cause(cause)
        fixed = rows[self.fixed[rows]]
        times: FloatArray = self.table.fix_time_min[fixed if fixed.size else rows]
        return times[~np.isnan(times)]

    def profile(self, cause: int) -> CauseProfile:
        """Return what the newest notes of a cause say."""
        if cause not in self._profiles:
            rows = self.rows_of_cause(cause)
            newest = rows[np.argsort(-self.table.date_days[rows], kind="stable")][:NOTES_PER_PROFILE]
            notes = [self.table.note(row) for row in newest.tolist()]
            fixed = [note for note in notes if note.outcome is Outcome.FIXED]
            self._profiles[cause] = CauseProfile(
                check=_first_text(note.check for note in notes),
                board=_commonest(note.board for note in notes),
                parts=_most_used(part for note in fixed for part in note.parts)[:PARTS_LISTED],
                proof=tuple(dict.fromkeys(note.proof for note in fixed if note.proof))[:PROOFS_LISTED],
                caution=tuple(dict.fromkeys(kind for note in notes for kind in note.caution)),
            )
        return self._profiles[cause]

    def ruling(self, said: Sequence[str]) -> Ruling:
        """Find the causes that were ruled out, by any spelling that compares equal."""
        place = {key: code for code, key in enumerate(self.table.cause_keys)}
        codes, names, unknown = [], [], []
        for cause in dict.fromkeys(said):
            code = place.get(cause_key(cause, self.finder))
            if code is None:
                unknown.append(cause)
            elif code not in codes:
                codes.append(code)
                names.append(self.table.cause_names[code])
        return Ruling(codes=np.array(codes, np.int64), names=tuple(names), unknown=tuple(unknown))


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
    families = _family_shares(knowledge, reading, odds.case_weight)
    telling = [each.chassis_family for each in families if each.share >= FAMILY_SHARE]
    likely = [knowledge.families[name] for name in telling if name in knowledge.families]
    named = _likeliest(odds.probability, CAUSES_NAMED)
    opening_min, assumed = _opening(knowledge, families)
    worth = [code for code in named[:CAUSES_CHECKED] if odds.probability[code] >= WORTH_A_CHECK]
    checked = worth or named[:1]
    order = _order(knowledge, odds.probability, checked, opening_min)
    causes = tuple(_cause(knowledge, odds, code) for code in named)
    profiles = [knowledge.profile(code) for code in named[:CAUSES_WARNED_OF]]
    warned = [(cause.probability, profile) for cause, profile in zip(causes, profiles, strict=False)]
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
        checks=_checks(knowledge, order),
        opening_min=opening_min,
        opening_assumed=assumed,
        expected_minutes=order.order.expected_minutes if order.codes else None,
        naive_minutes=order.order.naive_minutes if order.codes else None,
        bench_time=_bench_time(knowledge, order, checked) if order.codes else None,
        cases=(
            *(_hit(knowledge, reading, odds, row) for row in hits.tolist()),
            *(_bad_note(knowledge, reading, row) for row in bad_notes.tolist()[:BAD_NOTES_LISTED]),
        ),
        notices=tuple(notices),
        took_ms=0.0,
    )


@dataclass(frozen=True, kw_only=True)
class _Ordered:
    """The order of checks, and the cause code of each in that order."""

    order: Order
    codes: list[int]


def _order(knowledge: Knowledge, probability: FloatArray, codes: list[int], opening_min: float) -> _Ordered:
    times = knowledge.basis.checks
    checks = []
    for code in codes:
        profile = knowledge.profile(code)
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


def _bench_time(knowledge: Knowledge, ordered: _Ordered, codes: Sequence[int]) -> BenchTime | None:
    """Return the bench time to expect. codes: the causes in the order they were given to order_checks."""
    order = ordered.order
    profiles = [knowledge.profile(code) for code in codes]
    # What was found with the set closed and took no part (a lock, a filter) is mended with the set closed.
    fixed_inside = [bool(profile.parts) and is_inside("", profile.board) for profile in profiles]
    times = causes_in_order(order, [knowledge.fix_times(code) for code in codes], fixed_inside=fixed_inside)
    still_closed = not any(order.opened)
    return expected_bench_time(
        times,
        not_in_notebook=max(0.0, 1.0 - sum(check.probability for check in order.checks)),
        all_checks_min=order.total_minutes + (order.opening_min if still_closed else 0.0),
        spread=knowledge.basis.spread,
    )


def _checks(knowledge: Knowledge, ordered: _Ordered) -> tuple[CheckAnswer, ...]:
    return tuple(
        CheckAnswer(
            root_cause=check.root_cause,
            check=knowledge.profile(code).check,
            minutes=check.minutes,
            probability=check.probability,
            inside=check.inside,
            assumed=check.assumed,
        )
        for check, code in zip(ordered.order.checks, ordered.codes, strict=True)
    )


def _cause(knowledge: Knowledge, odds: CauseOdds, code: int) -> CauseAnswer:
    table, profile = knowledge.table, knowledge.profile(code)
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


def _family_shares(knowledge: Knowledge, reading: Reading, weight: FloatArray) -> tuple[FamilyShare, ...]:
    """Return where the evidence comes from; only the family that was said, when one was."""
    if reading.family:
        return (FamilyShare(chassis_family=reading.family, share=1.0),)
    if not reading.terms and reading.blinks is None:
        return ()
    codes = knowledge.table.family
    known = codes >= 0
    sums = np.bincount(codes[known], weights=weight[known], minlength=len(knowledge.table.family_names))
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
    if not (said and likely):
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


def _first_text(texts: Iterable[str]) -> str:
    return next((text for text in texts if text), "")


def _commonest(texts: Iterable[str]) -> str:
    return next(iter(_most_used(texts)), "")


def _most_used(texts: Iterable[str]) -> tuple[str, ...]:
    """Return texts by how often they occur; ties: the one met first."""
    return tuple(text for text, _ in Counter(text for text in texts if text).most_common())
