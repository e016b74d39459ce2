"""What family figures and answers need of the whole notebook, worked out once for each state of it."""

from dataclasses import dataclass, field
from weakref import WeakKeyDictionary

import numpy as np

from search.index.case_table import CaseTable
from search.planning.bench_time import FixTimeSpread, fix_time_spread
from search.planning.check_times import CheckTimes, check_times
from search.stats.arrays import BoolArray, IntArray


@dataclass(frozen=True, kw_only=True, eq=False)
class NotebookStatistics:
    """Statistics of the whole notebook; arrays over rows have the shape (table.size,).

    readable: rows that count. followed_days: days from each repair to its first comeback, else to the newest
    note. came_back: whether a comeback ended that span. spread: fix times of all fixed repairs.
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


_KNOWN: WeakKeyDictionary[CaseTable, NotebookStatistics] = WeakKeyDictionary()


def statistics_of(table: CaseTable) -> NotebookStatistics:
    """Return the statistics of a notebook, the same object for the same table."""
    if table not in _KNOWN:
        _KNOWN[table] = _work_out(table)
    return _KNOWN[table]


def _work_out(table: CaseTable) -> NotebookStatistics:
    readable = table.alive & table.readable
    days, came_back = _followed(table, readable)
    fixed = readable & table.fixed
    timed = (fixed if fixed.any() else readable) & (table.cause >= 0)
    rows = np.flatnonzero(readable)
    return NotebookStatistics(
        readable=readable,
        followed_days=days,
        came_back=came_back,
        spread=fix_time_spread(table.fix_time_min[timed].astype(np.float64), table.cause[timed]),
        checks=check_times(
            table.check_time_min[rows].astype(np.float64),
            causes=table.cause[rows],
            n_causes=len(table.cause_names),
        ),
    )


def _followed(table: CaseTable, readable: BoolArray) -> tuple[IntArray, BoolArray]:
    """Return days under watch and whether a comeback ended them, both of shape (table.size,).

    A comeback is dated before its repair only by mistake, and then does not count.
    """
    never = np.iinfo(np.int64).max
    days, earlier = table.date_days.astype(np.int64), table.comeback_row
    first = np.full(table.size, never)
    back = np.flatnonzero(readable & (earlier >= 0) & (earlier != np.arange(table.size)))
    apart = days[back] - days[earlier[back]]
    np.minimum.at(first, earlier[back][apart >= 0], apart[apart >= 0])
    watched = np.maximum(days[readable].max(initial=0) - days, 0)
    return np.where(first != never, first, watched), first != never
