"""Some cases of the notebook, and the figures that any group of them has."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from kb.terms import Vocabulary
from search.families.notebook_statistics import statistics_of
from search.families.spares import PartFigures, part_figures
from search.index.case_table import CaseTable, counts_by_name
from search.planning.bench_time import fix_time_sample
from search.planning.checks import Check
from search.planning.inside import fix_needs_opening, is_inside
from search.stats.arrays import FloatArray, IntArray
from search.stats.intervals import MedianInterval, Share, median_interval
from search.stats.survival import ComebackRate, comeback_rate


class CaseGroup:
    """Some rows of the case table, in ascending order, and their figures; `fixed`: the fixed ones."""

    def __init__(self, table: CaseTable, rows: IntArray | None = None) -> None:
        """Take rows of the table; by default all that can be read."""
        self.table, self.statistics = table, statistics_of(table)
        self.rows = np.flatnonzero(self.statistics.readable) if rows is None else rows
        self.fixed = self.rows[table.fixed[self.rows]]

    def fix_minutes(self) -> FloatArray:
        """Return the recorded fix times, minutes: of the fixed repairs, else of all; shape (times,)."""
        minutes = self.table.fix_time_min[self.fixed if self.fixed.size else self.rows]
        return minutes[~np.isnan(minutes)].astype(np.float64)

    def fix_time(self) -> MedianInterval | None:
        """Return the median fix time, None where no time is recorded."""
        return median_interval(self.fix_minutes())

    def success(self) -> Share:
        """Return how many were fixed, of all of them."""
        return Share(count=int(self.fixed.size), total=int(self.rows.size))

    def share_of(self, whole: CaseGroup) -> Share:
        """Return how many cases these are, of a larger group."""
        return Share(count=int(self.rows.size), total=int(whole.rows.size))

    def comeback(self) -> ComebackRate:
        """Return the share of the fixed ones that came back within 90 days."""
        days, back = self.statistics.followed_days, self.statistics.came_back
        return comeback_rate(days[self.fixed].tolist(), back[self.fixed].tolist())

    def parts(self) -> tuple[PartFigures, ...]:
        """Return the parts used, over all of them."""
        return part_figures([self.statistics.parts(self.table, row) for row in self.rows.tolist()])

    def check(
        self,
        cause: int,
        probability: float,
        *,
        says: str,
        board: str,
        parts: Sequence[object],
        note: str = "",
    ) -> Check:
        """Return the check that decides whether it is the cause (a code) that these cases had.

        says, board, parts: what to do, where the fault is and what mended it, as notes say.
        """
        minutes, assumed = self.statistics.checks.of(cause, self.table.check_time_min[self.rows], says)
        return Check(
            root_cause=self.table.cause_names[cause],
            probability=probability,
            check=says,
            minutes=minutes,
            assumed=assumed,
            inside=is_inside(says, board),
            note=note,
            fixed_inside=fix_needs_opening(parts, board),
            fix_times=fix_time_sample(self.fix_minutes(), self.statistics.spread),
        )

    def by(self, column: str) -> list[tuple[str, CaseGroup]]:
        """Return the cases of each name of a column of the table, most cases first, ties by name."""
        return self.split(*self._column(column))

    def split(self, codes: IntArray, names: Sequence[str]) -> list[tuple[str, CaseGroup]]:
        """Return the cases of each name that `codes`, (table.size,), stand for; negative codes for none."""
        if not self.rows.size:
            return []
        order = np.argsort(codes[self.rows], kind="stable")
        found, starts = np.unique(codes[self.rows][order], return_index=True)
        parts = zip(found.tolist(), np.split(self.rows[order], starts[1:]), strict=True)
        groups = [(names[code], CaseGroup(self.table, rows)) for code, rows in parts if code >= 0]
        return sorted(groups, key=lambda group: (-group[1].rows.size, group[0]))

    def by_board(self, vocabulary: Vocabulary | None) -> list[tuple[str, CaseGroup]]:
        """Return the cases of each board, most cases first, ties by name; the vocabulary joins its names.

        A board goes by the name that most cases of the notebook give it (ties: the alphabetically first).
        """
        table = self.table
        cases = Counter(table.board[table.board >= 0].tolist())
        joined: dict[frozenset[str], list[int]] = {}
        for code, name in enumerate(table.board_names):
            others = vocabulary.other_names(name) if vocabulary else ()
            joined.setdefault(frozenset(each.casefold() for each in (name, *others)), []).append(code)
        # One code more than there are boards, so that -1 (no board) stays -1.
        board_of = np.full(len(table.board_names) + 1, -1, dtype=np.int64)
        for codes in joined.values():
            board_of[codes] = min(codes, key=lambda code: (-cases[code], table.board_names[code]))
        return self.split(board_of[table.board], table.board_names)

    def _column(self, column: str) -> tuple[IntArray, Sequence[str]]:
        return getattr(self.table, column), getattr(self.table, f"{column}_names")

    def counts(self, column: str) -> tuple[tuple[str, int], ...]:
        """Return the names of a column with their number of cases, most cases first, ties by name."""
        codes, names = self._column(column)
        return counts_by_name(codes[self.rows], names)

    def most_common(self, column: str) -> str:
        """Return the most frequent name of a column, ties by name; "" where none is given."""
        return next((name for name, _ in self.counts(column)), "")

    def named(self, column: str) -> tuple[str, ...]:
        """Return the names of a column that these cases use, sorted."""
        return tuple(sorted(name for name, _ in self.counts(column)))
