"""Common fixes of a chassis family, worked out from the columns of the case table."""

import datetime
import re
from collections.abc import Mapping, Sequence

import numpy as np

from kb.notes.case import Outcome
from kb.notes.family import FamilyNote
from kb.terms import Vocabulary
from search.families.case_group import CaseGroup
from search.families.family_figures import (
    BlinkFigures,
    BoardFigures,
    CauseFigures,
    FamilyFigures,
    FamilySummary,
    Share,
)
from search.index.case_table import CaseTable, code_of
from search.planning.checks import DEFAULT_OPENING_MIN, Check
from search.planning.inside import fix_needs_opening, is_inside
from search.planning.job import JobPlan, SuspectedCause, plan_job
from search.planning.quote import PastTries
from search.stats.arrays import IntArray

# Chosen by us: with fewer fixed repairs of one cause a comeback rate is an anecdote.
# test_comebacks_of_a_cause_need_five_fixed_cases would notice.
ENOUGH_FOR_COMEBACKS = 5
EPOCH = datetime.date(1970, 1, 1)


def family_figures(
    table: CaseTable,
    family: str,
    *,
    note: FamilyNote | None = None,
    outcome: str = "",
    model: str = "",
    since: datetime.date | None = None,
    vocabulary: Vocabulary | None = None,
) -> FamilyFigures:
    """Return the figures of a family, over all its readable cases or some of them.

    Args:
        table: the cases of the notebook.
        family: name as in the notes, forgiving case; one without cases or note gives empty figures.
        note: the family's own note.
        outcome: count only cases that ended so; "" for all.
        model: count only cases of this model; "" for all.
        since: count only cases from this day on.
        vocabulary: which names mean one board.

    Raises:
        ValueError: there is no such outcome.
    """
    if outcome and outcome not in list(Outcome):
        raise ValueError(f"outcome {outcome!r}; write one of {', '.join(Outcome)}")
    code = code_of(table.family_names, family)
    whole = CaseGroup(table, np.flatnonzero(table.alive & table.readable & (table.family == code)))
    wanted = np.ones(whole.rows.size, np.bool_)
    if outcome:
        wanted &= table.outcome[whole.rows] == code_of(table.outcome_names, outcome)
    if model:
        wanted &= table.model[whole.rows] == code_of(table.model_names, model)
    if since:
        wanted &= table.date_days[whole.rows] >= (since - EPOCH).days
    cases = whole.of(whole.rows[wanted])
    known = note or _blank_note(whole, table.family_names[code] if code >= 0 else family)
    opening = DEFAULT_OPENING_MIN if known.opening_time_min is None else float(known.opening_time_min)
    causes = [(_cause(cause, own, cases), own) for cause, own in cases.by_cause()]
    plan = _plan(causes, opening, cases)
    outcomes = dict(cases.counts(table.outcome, table.outcome_names))
    return FamilyFigures(
        chassis_family=known.chassis_family,
        device=known.device,
        make=known.make,
        models=known.models,
        note=known,
        slice={"outcome": outcome, "model": model, "since": since.isoformat() if since else None},
        all_cases=int(whole.rows.size),
        case_models=whole.named(table.model, table.model_names),
        success=cases.success(),
        outcomes=tuple((str(each), outcomes.get(each, 0)) for each in Outcome),
        opening_assumed=known.opening_time_min is None,
        fix_time=cases.fix_time(),
        causes=tuple(cause for cause, _ in causes),
        blinks=_blinks(cases, known),
        comeback=cases.comeback(),
        years=_years(cases),
        parts=cases.parts(),
        boards=_boards(cases, known, vocabulary),
        order=plan.checks,
        bench_time=plan.bench_time,
        past=PastTries(not_economic=outcomes.get(Outcome.NOT_ECONOMIC, 0), cases=int(cases.rows.size)),
    )


def _blank_note(cases: CaseGroup, family: str) -> FamilyNote:
    """Return what the cases themselves say of a family that has no note."""
    table = cases.table
    return FamilyNote.model_construct(
        chassis_family=family,
        device=cases.most_common(table.device, table.device_names),
        make=cases.most_common(table.make, table.make_names),
        models=cases.named(table.model, table.model_names),
    )


def _cause(root_cause: str, own: CaseGroup, family: CaseGroup) -> CauseFigures:
    table, newest = own.table, own.newest_first()
    check = next((said for row in newest if (said := table.note(row).check)), "")
    board = own.most_common(table.board, table.board_names)
    recorded = table.check_time_min[own.rows]
    recorded = recorded[~np.isnan(recorded)]
    code, usual = int(table.cause[own.rows[0]]), own.statistics.checks
    return CauseFigures(
        root_cause=root_cause,
        share=own.share_of(family),
        success=own.success(),
        fix_time=own.fix_time(),
        comeback=own.comeback() if own.fixed.size >= ENOUGH_FOR_COMEBACKS else None,
        parts=own.parts(),
        board=board,
        check=check,
        check_time_min=float(np.median(recorded) if recorded.size else usual.minutes[code]),
        check_time_assumed=not recorded.size and bool(usual.assumed[code]),
        check_inside=is_inside(check, board),
        evidence=tuple(table.ids[row] for row in newest),
    )


def _plan(causes: Sequence[tuple[CauseFigures, CaseGroup]], opening_min: float, cases: CaseGroup) -> JobPlan:
    """Return the order of the causes' checks, and the bench time to expect before anything is known."""
    counts = [cause.share.count for cause, _ in causes]
    # Good-Turing's chance that the next case has a cause none of these had, shrunk towards 0 by one case, so
    # that the only case so far counts for half (chosen by us).
    unknown = counts.count(1) / (sum(counts) + 1) if counts else 1.0
    return plan_job(
        [
            SuspectedCause(
                check=Check(
                    root_cause=cause.root_cause,
                    probability=(1 - unknown) * cause.share.count / sum(counts),
                    minutes=cause.check_time_min,
                    inside=cause.check_inside,
                    assumed=cause.check_time_assumed,
                ),
                fix_times_min=own.fix_minutes(),
                fixed_inside=fix_needs_opening(cause.parts, cause.board),
            )
            for cause, own in causes
        ],
        opening_min=opening_min,
        not_in_notebook=unknown,
        spread=cases.statistics.spread,
    )


def _blinks(cases: CaseGroup, note: FamilyNote) -> tuple[BlinkFigures, ...]:
    """Return a line for each pattern that was seen or stands in the service sheet, by its counts."""
    table = cases.table
    sheet: dict[str, str] = {str(pattern): meaning for pattern, meaning in note.blink_meaning}
    seen = dict(cases.by(table.blink_code, [str(pattern) for pattern in table.blink_patterns]))
    lines = []
    for pattern in {**sheet, **seen}:
        own = seen.get(pattern) or cases.of(cases.rows[:0])
        causes = own.counts(table.cause, table.cause_names)
        lines.append(
            BlinkFigures(
                pattern=pattern,
                service_sheet=sheet.get(pattern, ""),
                cases=int(own.rows.size),
                causes=tuple((cause, Share(count=count, total=own.rows.size)) for cause, count in causes),
                fix_time=own.fix_time(),
            )
        )
    # "3" before "3 or 4" before "12".
    counts = {line.pattern: [int(said) for said in re.findall(r"\d+", line.pattern)] for line in lines}
    return tuple(sorted(lines, key=lambda line: (counts[line.pattern], line.pattern)))


def _boards(cases: CaseGroup, note: FamilyNote, vocabulary: Vocabulary | None) -> tuple[BoardFigures, ...]:
    """Return the boards that failed, most cases first, then those that only the family note names."""
    figures: list[BoardFigures] = []
    known: set[str] = set()
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
    if not years.size:
        return ()
    first = int(years.min())
    return tuple((first + i, count) for i, count in enumerate(np.bincount(years - first).tolist()))


def families_overview(table: CaseTable, notes: Mapping[str, FamilyNote]) -> tuple[FamilySummary, ...]:
    """Return a line for each family that has a note or a case, by make, device and name.

    Args:
        table: the cases of the notebook.
        notes: family notes by chassis family.
    """
    groups = dict(CaseGroup(table).by(table.family, table.family_names))
    nothing = CaseGroup(table, np.empty(0, np.int64))
    lines = []
    for name in {**notes, **groups}:
        cases = groups.get(name, nothing)
        note = notes.get(name) or _blank_note(cases, name)
        lines.append(
            FamilySummary(
                chassis_family=name,
                device=note.device,
                make=note.make,
                models=note.models,
                success=cases.success(),
                fix_time=cases.fix_time(),
            )
        )
    return tuple(sorted(lines, key=lambda line: (line.make, line.device, line.chassis_family)))
