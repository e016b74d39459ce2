"""What family figures need of the whole notebook, worked out once for each state of it."""

from collections import Counter
from dataclasses import dataclass, field
from weakref import WeakKeyDictionary

import numpy as np

from kb.terms import Vocabulary
from search.index.case_table import CaseTable
from search.planning.bench_time import FixTimeSpread, fix_time_spread
from search.planning.check_times import CheckTimes, check_times
from search.stats.arrays import BoolArray, IntArray


@dataclass(frozen=True, kw_only=True, eq=False)
class NotebookBasis:
    """Figures of the whole notebook; row arrays have the shape (table.size,).

    readable: rows that count. followed_days: from each row's repair to its first comeback, else to the newest
    note. came_back: whether a comeback ended that span. spread: fix times of all fixed repairs.
    checks: minutes for the check of each cause, shape (causes,).
    """

    readable: BoolArray
    followed_days: IntArray
    came_back: BoolArray
    spread: FixTimeSpread
    checks: CheckTimes
    _parts: dict[int, tuple[str, ...]] = field(default_factory=dict)

    def parts(self, table: CaseTable, row: int) -> tuple[str, ...]:
        """Return a row's parts; remembered, because unpacking a note takes longer than all else about it."""
        if row not in self._parts:
            self._parts[row] = table.note(row).parts
        return self._parts[row]


_KNOWN: WeakKeyDictionary[CaseTable, NotebookBasis] = WeakKeyDictionary()


def basis_of(table: CaseTable) -> NotebookBasis:
    """Return the notebook's basis, the same object for the same table."""
    known = _KNOWN.get(table)
    if known is None:
        known = _KNOWN[table] = _work_out(table)
    return known


def _work_out(table: CaseTable) -> NotebookBasis:
    readable = table.alive & table.readable
    days, came_back = _followed(table, readable)
    timed = readable & table.fixed
    if not timed.any():
        timed = readable
    timed = timed & (table.cause >= 0)
    rows = np.flatnonzero(readable)
    return NotebookBasis(
        readable=readable,
        followed_days=days,
        came_back=came_back,
        spread=fix_time_spread(table.fix_time_min[timed].astype(np.float64), table.cause[timed]),
        checks=check_times(
            table.check_time_min[rows].astype(np.float64),
            causes=table.cause[rows],
            boards=table.board[rows],
            n_causes=len(table.cause_names),
        ),
    )


def _followed(table: CaseTable, readable: BoolArray) -> tuple[IntArray, BoolArray]:
    """Return days under watch and whether a comeback ended them, for each row.

    A comeback is dated before its repair only by mistake, and then does not count.
    """
    newest = int(table.date_days[readable].max(initial=0))
    never = np.iinfo(np.int64).max
    first = np.full(table.size, never)
    earlier = table.comeback_row
    back = np.flatnonzero(readable & (earlier >= 0) & (earlier != np.arange(table.size)))
    apart = table.date_days[back].astype(np.int64) - table.date_days[earlier[back]]
    np.minimum.at(first, earlier[back][apart >= 0], apart[apart >= 0])
    came_back = first != never
    watched = newest - table.date_days.astype(np.int64)
    return np.where(came_back, first, np.maximum(watched, 0)), came_back


def years_of(date_days: IntArray) -> IntArray:
    """Return the calendar year of each day since 1970-01-01."""
    return date_days.astype(np.int64).astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970


def board_groups(table: CaseTable, vocabulary: Vocabulary | None) -> tuple[IntArray, list[str]]:
    """Return which board names mean one board.

    Returns: for each code of table.board its group, with -1 at the end for rows without a board, so that
    groups[table.board] works; and each group's most frequent name (ties: the alphabetically first).
    """
    cases = Counter(table.board[table.board >= 0].tolist())
    groups: dict[frozenset[str], list[int]] = {}
    for code, name in enumerate(table.board_names):
        others = vocabulary.other_names(name) if vocabulary else ()
        groups.setdefault(frozenset(each.casefold() for each in (name, *others)), []).append(code)
    group_of = np.full(len(table.board_names) + 1, -1, dtype=np.int64)
    names = []
    for group, codes in enumerate(groups.values()):
        group_of[codes] = group
        names.append(table.board_names[min(codes, key=lambda code: (-cases[code], table.board_names[code]))])
    return group_of, names
