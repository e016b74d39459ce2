"""Common fixes of a chassis family, worked out from the columns of the case table."""

import datetime
from collections.abc import Mapping

import numpy as np

from kb.notes.case import Outcome
from kb.notes.family import FamilyNote
from kb.terms import Vocabulary
from search.families.blinks import blinks_of
from search.families.case_group import CaseGroup
from search.families.family_figures import BoardFigures, CauseFigures, FamilyFigures, FamilySummary
from search.index.case_table import CaseTable, code_of
from search.planning.bench_time import expected_bench_time
from search.planning.checks import DEFAULT_OPENING_MIN, order_checks
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

    family: name as in the notes, forgiving case; one without cases or note gives empty figures. note: its
    own. outcome, model: count only cases that ended so, or of this model; "" for all. since: only cases from
    this day on. vocabulary: which names mean one board.
    """
    code = code_of(table.family_names, family)
    wanted = table.alive & table.readable & (table.family == code)
    whole = CaseGroup(table, np.flatnonzero(wanted))
    if outcome:
        wanted &= table.outcome == code_of(table.outcome_names, outcome)
    if model:
        wanted &= table.model == code_of(table.model_names, model)
    if since:
        wanted &= table.date_days >= (since - EPOCH).days
    cases = CaseGroup(table, np.flatnonzero(wanted))
    known = note or _blank_note(whole, table.family_names[code] if code >= 0 else family)
    opening = DEFAULT_OPENING_MIN if known.opening_time_min is None else float(known.opening_time_min)
    groups = [own for _, own in cases.by("cause")]
    counts = [own.rows.size for own in groups]
    # Good-Turing's chance that the next case has a cause none of these had, shrunk towards 0 by one case, so
    # that the only case so far counts for half (chosen by us).
    unknown = counts.count(1) / (sum(counts) + 1) if counts else 1.0
    causes = tuple(_cause(own, cases, (1 - unknown) * own.rows.size / sum(counts)) for own in groups)
    plan = order_checks([cause.check for cause in causes], opening_min=opening)
    outcomes = dict(cases.counts("outcome"))
    return FamilyFigures(
        **vars(_summary(known, cases)),
        note=known,
        slice={"outcome": outcome, "model": model, "since": since.isoformat() if since else None},
        all_cases=int(whole.rows.size),
        case_models=whole.named("model"),
        outcomes={str(each): outcomes.get(each, 0) for each in Outcome},
        opening_assumed=known.opening_time_min is None,
        causes=causes,
        blinks=blinks_of(cases, known),
        comeback=cases.comeback(),
        years=_years(cases),
        parts=cases.parts(),
        boards=_boards(cases, known, vocabulary),
        order=plan,
        bench_time=expected_bench_time(plan, not_in_notebook=unknown, spread=cases.statistics.spread),
    )


def _blank_note(cases: CaseGroup, family: str) -> FamilyNote:
    """Return what the cases themselves say of a family that has no note."""
    return FamilyNote.model_construct(
        chassis_family=family,
        device=cases.most_common("device"),
        make=cases.most_common("make"),
        models=cases.named("model"),
    )


def _summary(note: FamilyNote, cases: CaseGroup) -> FamilySummary:
    return FamilySummary(
        chassis_family=note.chassis_family,
        device=note.device,
        make=note.make,
        models=note.models,
        success=cases.success(),
        fix_time=cases.fix_time(),
    )


def _cause(own: CaseGroup, family: CaseGroup, probability: float) -> CauseFigures:
    table, parts, board = own.table, own.parts(), own.most_common("board")
    newest = sorted(own.rows.tolist(), key=lambda row: (-int(table.date_days[row]), table.ids[row]))
    check = next((said for row in newest if (said := table.note(row).check)), "")
    cause = int(table.cause[newest[0]])
    return CauseFigures(
        root_cause=table.cause_names[cause],
        share=own.share_of(family),
        success=own.success(),
        fix_time=own.fix_time(),
        comeback=own.comeback() if own.fixed.size >= ENOUGH_FOR_COMEBACKS else None,
        parts=parts,
        board=board,
        check=own.check(cause, probability, says=check, board=board, parts=parts),
        evidence=tuple(table.ids[row] for row in newest),
    )


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
    first = int(years.min(initial=9999))
    return tuple((first + i, count) for i, count in enumerate(np.bincount(years - first).tolist()))


def families_overview(table: CaseTable, notes: Mapping[str, FamilyNote]) -> tuple[FamilySummary, ...]:
    """Return a line for each family that has a note or a case, by make, device and name."""
    groups = dict(CaseGroup(table).by("family"))
    nothing = CaseGroup(table, np.empty(0, np.int64))
    cases_of = {name: groups.get(name, nothing) for name in {**notes, **groups}}
    lines = [_summary(notes.get(name) or _blank_note(own, name), own) for name, own in cases_of.items()]
    return tuple(sorted(lines, key=lambda line: (line.make, line.device, line.chassis_family)))
