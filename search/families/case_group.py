"""Some cases of the notebook, and the figures that any group of them has."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from search.families.family_figures import Share
from search.families.notebook_statistics import NotebookBasis
from search.families.spares import PartFigures, part_figures
from search.index.case_table import CaseTable
from search.stats.arrays import FloatArray, IntArray
from search.stats.intervals import MedianInterval, median_interval
from search.stats.survival import ComebackRate, comeback_rate


class CaseGroup:
    """Hold the rows of some cases, and work out the figures that any group of them has.

    rows: row numbers of the table, ascending. is_fixed: which of them ended fixed.
    """

    def __init__(self, table: CaseTable, basis: NotebookBasis, rows: IntArray) -> None:
        """Take rows of the table; basis is the table's own."""
        self.table, self.basis, self.rows = table, basis, rows
        self.is_fixed = table.fixed[rows]

    def of(self, rows: IntArray) -> CaseGroup:
        """Return other rows of the same table as a group."""
        return CaseGroup(self.table, self.basis, rows)

    def times(self) -> IntArray:
        """Return the rows whose fix time is meant: the fixed ones, else all; none without a time."""
        rows = self.rows[self.is_fixed] if self.is_fixed.any() else self.rows
        return rows[~np.isnan(self.table.fix_time_min[rows])]

    def fix_minutes(self) -> FloatArray:
        """Return those rows' fix times, minutes."""
        return self.table.fix_time_min[self.times()].astype(np.float64)

    def fix_time(self) -> MedianInterval | None:
        """Return the median fix time, None where there is no fix time."""
        minutes = self.fix_minutes()
        return median_interval(minutes.tolist()) if minutes.size else None

    def success(self) -> Share:
        """Return how many were fixed, of all of them."""
        return Share(count=int(np.count_nonzero(self.is_fixed)), total=int(self.rows.size))

    def comeback(self) -> ComebackRate:
        """Return the share of the fixed ones that came back within 90 days."""
        fixed = self.rows[self.is_fixed]
        return comeback_rate(self.basis.followed_days[fixed].tolist(), self.basis.came_back[fixed].tolist())

    def parts(self) -> tuple[PartFigures, ...]:
        """Return the parts used, over all of them."""
        return part_figures([self.basis.parts(self.table, row) for row in self.rows.tolist()])

    def newest_first(self) -> list[int]:
        """Return the rows, newest first, ties by case number."""
        ids, dates = self.table.ids, self.table.date_days
        return sorted(self.rows.tolist(), key=lambda row: (-int(dates[row]), ids[row]))

    def by(self, codes: IntArray) -> list[tuple[int, IntArray]]:
        """Return each code (shape as rows, negative names nothing) and its rows, most rows first."""
        if not codes.size:
            return []
        order = np.argsort(codes, kind="stable")
        found, starts = np.unique(codes[order], return_index=True)
        groups = [
            (code, rows)
            for code, rows in zip(found.tolist(), np.split(self.rows[order], starts[1:]), strict=True)
            if code >= 0
        ]
        return sorted(groups, key=lambda group: -group[1].size)

    def most_common(self, column: IntArray, names: Sequence[str]) -> str:
        """Return the most frequent name of a table's column, ties by name; "" where none is given."""
        counts = Counter(names[code] for code in column[self.rows].tolist() if code >= 0)
        return min(counts, key=lambda name: (-counts[name], name), default="")
