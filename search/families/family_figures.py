"""What a chassis family is known for: figures from the case table, and their JSON."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from kb.notes.case import Outcome
from kb.notes.family import FamilyNote
from kb.terms import Vocabulary
from search.families.case_group import BlinkFigures, CaseGroup, blinks_of
from search.families.spares import PartFigures
from search.index.case_table import CaseTable, code_of
from search.index.documents import days
from search.planning.bench_time import BenchTime, expected_bench_time
from search.planning.checks import DEFAULT_OPENING_MIN, Check, CheckPlan, order_checks
from search.records import FiguresRecord, JsonRecord, in_json
from search.stats.arrays import IntArray
from search.stats.intervals import ComebackRate, MedianInterval, Share

ENOUGH_FOR_COMEBACKS = 5  # fixed repairs of a cause for a comeback rate; chosen by us (test_summaries)
# Fields of FamilyFigures whose JSON has another form, and fields that JSON takes from the note.
INNER_FIELDS = ("note", "order", "bench_time", "case_models")
NOTE_FIELDS = ("caution", "before_power", "tell_owner", "while_open", "body")
SUMMARY_FIELDS = ("chassis_family", "device", "make", "models")  # of the note


@dataclass(frozen=True, kw_only=True)
class CauseFigures(FiguresRecord):
    """One root cause within a family with all its spellings; `spellings` are the others.

    share: of the family's cases. success: share of its cases that were fixed. fix_time: of the fixed cases,
    else of all. comeback: None with fewer than 5 fixed cases. evidence: newest first. check: the newest
    recorded.
    """

    root_cause: str
    spellings: tuple[str, ...]
    share: Share
    success: Share
    fix_time: MedianInterval | None
    comeback: ComebackRate | None
    parts: tuple[PartFigures, ...]
    board: str
    check: Check
    evidence: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        check = {
            "check": self.check.check, "check_time_min": self.check.minutes,
            "check_time_assumed": self.check.assumed, "check_inside": self.check.inside,
        }  # fmt: skip
        return {**super().as_json(), **check}


@dataclass(frozen=True, kw_only=True)
class BoardFigures(JsonRecord):
    """A board: how many cases it has, and what other makers call it."""

    board: str
    cases: int
    other_names: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class FamilySummary(FiguresRecord):
    """One line of the list of families. success: share of its cases that were fixed."""

    chassis_family: str
    device: str
    make: str
    models: tuple[str, ...]
    success: Share
    fix_time: MedianInterval | None


@dataclass(frozen=True, kw_only=True)
class FamilyFigures(FamilySummary):
    """All that is said about one family.

    note: blank if there is none. slice: which cases count, as asked for. all_cases, case_models: of the whole
    family; all other figures are of the slice. years: (year, cases), without gaps. order: the checks of the
    causes in order. bench_time: None if no fix time is known. opening_assumed: no note gives the opening
    time.
    """

    note: FamilyNote
    slice: Mapping[str, str | None]
    all_cases: int
    case_models: tuple[str, ...]
    outcomes: Mapping[str, int]
    opening_assumed: bool
    causes: tuple[CauseFigures, ...]
    blinks: tuple[BlinkFigures, ...]
    comeback: ComebackRate
    years: tuple[tuple[int, int], ...]
    parts: tuple[PartFigures, ...]
    boards: tuple[BoardFigures, ...]
    order: CheckPlan
    bench_time: BenchTime | None

    @property
    def past(self) -> Share:
        """The share that was given up as not economic."""
        return Share(count=self.outcomes[Outcome.NOT_ECONOMIC], total=self.success.total)

    def as_json(self) -> dict[str, Any]:
        """Return the figures as `GET /api/families/NAME` and `benchlore family NAME --json` give them."""
        (low, high), given_up = self.past.interval, self.past.count
        return {
            **{name: said for name, said in super().as_json().items() if name not in INNER_FIELDS},
            **{name: in_json(getattr(self.note, name)) for name in NOTE_FIELDS},
            **self.order.as_json(),
            "comebacks": self.comeback.comebacks,
            "repairs_followed_90_days": self.comeback.still_followed,
            "years": [{"year": year, "cases": cases} for year, cases in self.years],
            "bench_time_min": in_json(self.bench_time),
            "not_economic": {"not_economic": given_up, "cases": self.past.total, "low": low, "high": high},
        }


def family_figures(
    table: CaseTable, family: str, *, note: FamilyNote | None = None, outcome: str = "", model: str = "",
    since: datetime.date | None = None, vocabulary: Vocabulary | None = None,
) -> FamilyFigures:  # fmt: skip
    """Return the figures of a family, over all its readable cases or some of them.

    family: as in the notes, in any case; an unknown one gives empty figures. outcome, model, since: count
    only cases that ended so, of this model, from this day on. vocabulary: to join the names of boards.
    """
    code = code_of(table.family_names, family)
    wanted = table.alive & table.readable & (table.family == code)
    whole = CaseGroup(table, np.flatnonzero(wanted))
    if outcome:
        wanted &= table.outcome == code_of(table.outcome_names, outcome)
    if model:
        wanted &= table.model == code_of(table.model_names, model)
    if since:
        wanted &= table.date_days >= days(since)
    cases = CaseGroup(table, np.flatnonzero(wanted))
    known = note or _blank_note(whole, table.family_names[code] if code >= 0 else family)
    opening = DEFAULT_OPENING_MIN if known.opening_time_min is None else float(known.opening_time_min)
    groups = [own for _, own in cases.split(cases.causes, table.cause_names)]
    counts = [own.rows.size for own in groups]
    # Good-Turing's chance that the next case has a new cause, shrunk towards 0 by one case, so that a single
    # case so far counts half (chosen by us).
    unknown = counts.count(1) / (sum(counts) + 1) if counts else 1.0
    causes = tuple(_cause(own, cases, (1 - unknown) * own.rows.size / sum(counts)) for own in groups)
    plan = order_checks([cause.check for cause in causes], opening_min=opening)
    outcomes = dict(cases.counts("outcome"))
    return FamilyFigures(
        **vars(_summary(known, cases)), note=known,
        slice={"outcome": outcome, "model": model, "since": since.isoformat() if since else None},
        all_cases=int(whole.rows.size), case_models=whole.named("model"),
        outcomes={str(each): outcomes.get(each, 0) for each in Outcome},
        opening_assumed=known.opening_time_min is None, causes=causes, blinks=blinks_of(cases, known),
        comeback=cases.comeback(), years=_years(cases), parts=cases.parts(),
        boards=_boards(cases, known, vocabulary), order=plan,
        bench_time=expected_bench_time(plan, not_in_notebook=unknown, spread=cases.statistics.spread),
    )  # fmt: skip


def _blank_note(cases: CaseGroup, family: str) -> FamilyNote:
    """Return a note made from the cases of a family that has none."""
    device, make, models = cases.most_common("device"), cases.most_common("make"), cases.named("model")
    return FamilyNote.model_construct(chassis_family=family, device=device, make=make, models=models)


def _summary(note: FamilyNote, cases: CaseGroup) -> FamilySummary:
    said = {name: getattr(note, name) for name in SUMMARY_FIELDS}
    return FamilySummary(**said, success=cases.success(), fix_time=cases.fix_time())


def _cause(own: CaseGroup, family: CaseGroup, probability: float) -> CauseFigures:
    table, parts, board = own.table, own.parts(), own.most_common("board")
    newest = sorted(own.rows.tolist(), key=lambda row: (-int(table.date_days[row]), table.ids[row]))
    check = next((said for row in newest if (said := table.note(row).check)), "")
    cause = int(family.causes[newest[0]])
    name = table.cause_names[cause]
    return CauseFigures(
        root_cause=name, spellings=tuple(each for each in own.named("cause") if each != name),
        share=Share(count=len(own.rows), total=len(family.rows)), success=own.success(),
        fix_time=own.fix_time(), comeback=own.comeback() if own.fixed.size >= ENOUGH_FOR_COMEBACKS else None,
        parts=parts, board=board, check=own.check(cause, probability, says=check, board=board, parts=parts),
        evidence=tuple(table.ids[row] for row in newest),
    )  # fmt: skip


def _boards(cases: CaseGroup, note: FamilyNote, vocabulary: Vocabulary | None) -> tuple[BoardFigures, ...]:
    """Return the boards that failed, most cases first, then those that only the family note names."""
    figures, known = [], set[str]()
    failed = [(board, int(own.rows.size)) for board, own in cases.by_board(vocabulary)]
    for board, count in (*failed, *((board, 0) for board in note.boards)):
        others = vocabulary.other_names(board) if vocabulary else ()
        if board.casefold() not in known:
            figures.append(BoardFigures(board=board, cases=count, other_names=others))
        known.update(each.casefold() for each in (board, *others))
    return tuple(figures)


def years_of(date_days: IntArray) -> IntArray:
    """Return the calendar year of each day since 1970-01-01."""
    return date_days.astype(np.int64).astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970


def _years(cases: CaseGroup) -> tuple[tuple[int, int], ...]:
    years = years_of(cases.table.date_days[cases.rows])
    first = int(years.min(initial=9999))
    return tuple((first + i, count) for i, count in enumerate(np.bincount(years - first).tolist()))


def families_overview(table: CaseTable, notes: Mapping[str, FamilyNote]) -> tuple[FamilySummary, ...]:
    """Return a line for each family that has a note or a case, by make, device and name."""
    groups = dict(CaseGroup(table).split(table.family, table.family_names))
    nothing = CaseGroup(table, np.empty(0, np.int64))
    cases_of = {name: groups.get(name, nothing) for name in {**notes, **groups}}
    lines = [_summary(notes.get(name) or _blank_note(own, name), own) for name, own in cases_of.items()]
    return tuple(
        sorted(lines, key=lambda line: (line.make.casefold(), line.device.casefold(), line.chassis_family))
    )
