"""Common fixes of a chassis family, worked out from the columns of the case table."""

import datetime
from collections.abc import Mapping, Sequence

import numpy as np

from kb.notes.blinks import BlinkPattern
from kb.notes.case import Outcome
from kb.notes.family import FamilyNote
from kb.terms import Vocabulary
from search.causes.priors import new_share
from search.families.case_group import CaseGroup
from search.families.family_figures import (
    BlinkFigures,
    BoardFigures,
    CauseFigures,
    FamilyFigures,
    FamilySummary,
    Share,
    Slice,
)
from search.families.notebook_statistics import basis_of, board_groups, years_of
from search.index.case_table import CaseTable, code_of
from search.planning.checks import DEFAULT_OPENING_MIN, Check
from search.planning.inside import fix_needs_opening, is_inside
from search.planning.job import JobPlan, SuspectedCause, plan_job
from search.planning.quote import PastTries
from search.stats.arrays import IntArray

# Chosen by us: with fewer fixed repairs of one cause a comeback rate is an anecdote.
# test_comebacks_of_a_cause_need_five_fixed_cases would notice.
ENOUGH_FOR_COMEBACKS = 5


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
    """Return the figures of a family, over all its readable cases or a slice of them.

    family: name as in the notes, forgiving case; one without cases or note gives empty figures.
    note: the family's own note. outcome, model, since: the slice, "" and None for no limit.
    vocabulary: which names mean one board. Raises: ValueError for an unknown outcome.
    """
    if outcome and outcome not in list(Outcome):
        raise ValueError(f"outcome {outcome!r}; write one of {', '.join(Outcome)}")
    basis = basis_of(table)
    of_family = np.flatnonzero(basis.readable & (table.family == code_of(table.family_names, family)))
    cut = Slice(outcome=outcome or "", model=model or "", since=since)
    cases = CaseGroup(table, basis, _sliced(table, of_family, cut))
    whole = CaseGroup(table, basis, of_family)
    causes = _causes(cases)
    opening = note.opening_time_min if note else None
    plan = _plan(cases, causes, DEFAULT_OPENING_MIN if opening is None else float(opening))
    given_up = np.count_nonzero(
        table.outcome[cases.rows] == code_of(table.outcome_names, Outcome.NOT_ECONOMIC)
    )
    return FamilyFigures(
        chassis_family=note.chassis_family if note else _spelled(table, family),
        device=note.device if note else whole.most_common(table.device, table.device_names),
        make=note.make if note else whole.most_common(table.make, table.make_names),
        models=_models(whole, note),
        slice=cut,
        all_cases=int(of_family.size),
        success=cases.success(),
        outcomes=_outcomes(cases),
        opening_min=plan.checks.opening_min,
        opening_assumed=opening is None,
        fix_time=cases.fix_time(),
        causes=tuple(cause for cause, _ in causes),
        blinks=_blinks(cases, note),
        comeback=cases.comeback(),
        years=_years(cases),
        parts=cases.parts(),
        boards=_boards(cases, note, vocabulary),
        order=plan.checks,
        bench_time=plan.bench_time,
        past=PastTries(not_economic=int(given_up), cases=int(cases.rows.size)),
        before_power=note.before_power if note else (),
        tell_owner=note.tell_owner if note else (),
        while_open=note.while_open if note else (),
        caution=note.caution if note else (),
        body=note.body if note else "",
    )


def _sliced(table: CaseTable, rows: IntArray, cut: Slice) -> IntArray:
    if cut.outcome:
        rows = rows[table.outcome[rows] == code_of(table.outcome_names, cut.outcome)]
    if cut.model:
        rows = rows[table.model[rows] == code_of(table.model_names, cut.model)]
    if cut.since:
        rows = rows[table.date_days[rows] >= (cut.since - datetime.date(1970, 1, 1)).days]
    return rows


def _causes(cases: CaseGroup) -> list[tuple[CauseFigures, CaseGroup]]:
    """Return the causes with their cases, most cases first, then by name."""
    groups = [(code, cases.of(rows)) for code, rows in cases.by(cases.table.cause[cases.rows])]
    figures = [(_cause(cases, code, own), own) for code, own in groups]
    return sorted(figures, key=lambda pair: (-pair[0].share.count, pair[0].root_cause))


def _cause(cases: CaseGroup, code: int, own: CaseGroup) -> CauseFigures:
    table = cases.table
    newest = own.newest_first()
    check = next((said for row in newest if (said := table.note(row).check)), "")
    board = own.most_common(table.board, table.board_names)
    recorded = table.check_time_min[own.rows]
    recorded = recorded[~np.isnan(recorded)]
    minutes = float(np.median(recorded)) if recorded.size else float(cases.basis.checks.minutes[code])
    return CauseFigures(
        root_cause=table.cause_names[code],
        share=Share(count=int(own.rows.size), total=int(cases.rows.size)),
        success=own.success(),
        fix_time=own.fix_time(),
        comeback=own.comeback() if own.success().count >= ENOUGH_FOR_COMEBACKS else None,
        parts=own.parts(),
        board=board,
        check=check,
        check_min=minutes,
        check_assumed=not recorded.size and bool(cases.basis.checks.assumed[code]),
        check_inside=is_inside(check, board),
        evidence=tuple(table.ids[row] for row in newest),
    )


def _plan(cases: CaseGroup, causes: Sequence[tuple[CauseFigures, CaseGroup]], opening_min: float) -> JobPlan:
    """Return the order of the causes' checks, and the bench time to expect before anything is known."""
    total = sum(cause.share.count for cause, _ in causes)
    unknown = _not_seen_yet([cause.share.count for cause, _ in causes])
    return plan_job(
        [
            SuspectedCause(
                check=Check(
                    root_cause=cause.root_cause,
                    probability=(1 - unknown) * cause.share.count / total,
                    minutes=cause.check_min,
                    inside=cause.check_inside,
                    assumed=cause.check_assumed,
                ),
                fix_times_min=own.fix_minutes(),
                fixed_inside=fix_needs_opening(cause.parts, cause.board),
            )
            for cause, own in causes
        ],
        opening_min=opening_min,
        not_in_notebook=unknown,
        spread=cases.basis.spread,
    )


def _not_seen_yet(counts: Sequence[int]) -> float:
    """Return the chance that the next case has a cause that none of these had.

    counts: cases of each cause. Good-Turing's share, shrunk towards 0 by one case, so that the only case so
    far counts for half (chosen by us); 1.0 without any.
    """
    return new_share(sum(count == 1 for count in counts), sum(counts), parent=0.0) if counts else 1.0


def _blinks(cases: CaseGroup, note: FamilyNote | None) -> tuple[BlinkFigures, ...]:
    """Return a line for each pattern that was seen or stands in the service sheet, by its counts."""
    table = cases.table
    sheet: dict[BlinkPattern, str] = dict(note.blink_meaning) if note else {}
    seen = {table.blink_patterns[code]: rows for code, rows in cases.by(table.blink_code[cases.rows])}
    lines = []
    for pattern in dict.fromkeys((*sheet, *seen)):
        own = cases.of(seen.get(pattern, np.empty(0, dtype=np.int64)))
        causes = [
            (table.cause_names[code], Share(count=int(rows.size), total=int(own.rows.size)))
            for code, rows in own.by(table.cause[own.rows])
        ]
        lines.append(
            BlinkFigures(
                pattern=str(pattern),
                service_sheet=sheet.get(pattern, ""),
                cases=int(own.rows.size),
                causes=tuple(sorted(causes, key=lambda cause: (-cause[1].count, cause[0]))),
                fix_time=own.fix_time(),
            )
        )
    return tuple(sorted(lines, key=lambda line: _pattern_order(line.pattern)))


def _pattern_order(pattern: str) -> tuple[list[int], str]:
    """Sort "3" before "3 or 4" before "12"."""
    return [int(word) for word in "".join(c if c.isdigit() else " " for c in pattern).split()], pattern


def _boards(
    cases: CaseGroup, note: FamilyNote | None, vocabulary: Vocabulary | None
) -> tuple[BoardFigures, ...]:
    """Return the boards that failed, most cases first, then those that only the family note names."""
    table = cases.table
    group_of, names = board_groups(table, vocabulary)
    figures: dict[str, BoardFigures] = {}
    known: set[str] = set()
    counted = [(names[code], int(rows.size)) for code, rows in cases.by(group_of[table.board[cases.rows]])]
    named_only = [(board, 0) for board in (note.boards if note else ())]
    for board, count in (*sorted(counted, key=lambda item: (-item[1], item[0])), *named_only):
        others = vocabulary.other_names(board) if vocabulary else ()
        if board.casefold() not in known:
            figures[board] = BoardFigures(board=board, cases=count, other_names=others)
        known.update(each.casefold() for each in (board, *others))
    return tuple(figures.values())


def _outcomes(cases: CaseGroup) -> tuple[tuple[str, int], ...]:
    codes = cases.table.outcome[cases.rows]
    names = cases.table.outcome_names
    return tuple((str(each), int(np.count_nonzero(codes == code_of(names, each)))) for each in Outcome)


def _years(cases: CaseGroup) -> tuple[tuple[int, int], ...]:
    years = years_of(cases.table.date_days[cases.rows])
    if not years.size:
        return ()
    first = int(years.min())
    return tuple((first + i, count) for i, count in enumerate(np.bincount(years - first).tolist()))


def _models(cases: CaseGroup, note: FamilyNote | None) -> tuple[str, ...]:
    """Return the family note's models, or those of the cases where there is no note."""
    if note:
        return note.models
    table = cases.table
    return tuple(sorted({table.model_names[code] for code in table.model[cases.rows].tolist() if code >= 0}))


def _spelled(table: CaseTable, family: str) -> str:
    code = code_of(table.family_names, family)
    return table.family_names[code] if code >= 0 else family


def families_overview(table: CaseTable, notes: Mapping[str, FamilyNote]) -> tuple[FamilySummary, ...]:
    """Return a line for each family that has a note or a case, by make, device and name.

    notes: family notes by chassis family.
    """
    basis = basis_of(table)
    everything = CaseGroup(table, basis, np.flatnonzero(basis.readable))
    by_family = {
        table.family_names[code]: rows for code, rows in everything.by(table.family[everything.rows])
    }
    lines = []
    for name in {**dict.fromkeys(notes), **dict.fromkeys(by_family)}:
        cases = everything.of(by_family.get(name, np.empty(0, dtype=np.int64)))
        note = notes.get(name)
        lines.append(
            FamilySummary(
                chassis_family=name,
                device=note.device if note else cases.most_common(table.device, table.device_names),
                make=note.make if note else cases.most_common(table.make, table.make_names),
                models=_models(cases, note),
                success=cases.success(),
                fix_time=cases.fix_time(),
            )
        )
    return tuple(sorted(lines, key=lambda line: (line.make, line.device, line.chassis_family)))
