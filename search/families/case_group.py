"""A group of cases and the figures that every group has, such as fix times, comebacks and blinks."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from kb.terms import Vocabulary
from search.causes.similar_causes import pool_causes
from search.families.spares import PartFigures, part_figures
from search.index.case_table import CaseTable, code_of, counts_by_name
from search.planning.bench_time import fix_time_sample, fix_time_spread
from search.planning.checks import DEFAULT_CHECK_MIN, Check, check_minutes, is_inside
from search.records import FiguresRecord
from search.stats import intervals
from search.stats.arrays import BoolArray, FloatArray, IntArray
from search.stats.intervals import ComebackRate, MedianInterval, Share

CAUSES_POOLED = 200  # causes whose spellings are joined; more changes nothing that is shown; chosen by us


class NotebookStatistics:
    """What groups of cases need from the whole notebook. Arrays over rows have the shape (table.size,).

    readable: rows that count. followed_days: from each repair to its first comeback (came_back is True), else
    to the newest note. spread: of the fix times of fixed repairs. check_min: median minutes of each cause's
    check, (n_causes,), nan for none; usual_check_min: of all checks. parts: by row, kept because unpacking a
    note is slow.
    """

    def __init__(self, table: CaseTable) -> None:
        self.readable: BoolArray = table.alive & table.readable
        self.followed_days, self.came_back = _followed(table, self.readable)
        fixed = self.readable & table.fixed
        timed = (fixed if fixed.any() else self.readable) & (table.cause >= 0)
        self.spread = fix_time_spread(table.fix_time_min[timed].astype(np.float64), table.cause[timed])
        checks = np.where(self.readable, table.check_time_min, np.nan).astype(np.float64)
        self.check_min = intervals.group_medians(checks, table.cause, len(table.cause_names))
        self.usual_check_min = DEFAULT_CHECK_MIN if np.isnan(checks).all() else float(np.nanmedian(checks))
        self.parts: dict[int, tuple[str, ...]] = {}


_KNOWN: WeakKeyDictionary[CaseTable, NotebookStatistics] = WeakKeyDictionary()


def statistics_of(table: CaseTable) -> NotebookStatistics:
    """Return the statistics of a notebook, worked out once for a table."""
    if table not in _KNOWN:
        _KNOWN[table] = NotebookStatistics(table)
    return _KNOWN[table]


def _followed(table: CaseTable, readable: BoolArray) -> tuple[IntArray, BoolArray]:
    """Return the days that each repair was followed and whether a comeback ended them, (table.size,)."""
    never = np.iinfo(np.int64).max
    days, earlier = table.date_days.astype(np.int64), table.comeback_row
    first = np.full(table.size, never)
    back = np.flatnonzero(readable & (earlier >= 0) & (earlier != np.arange(table.size)))
    apart = days[back] - days[earlier[back]]
    np.minimum.at(first, earlier[back][apart >= 0], apart[apart >= 0])
    watched = np.maximum(days[readable].max(initial=0) - days, 0)
    return np.where(first != never, first, watched), first != never


class CaseGroup:
    """Some rows of the case table, ascending, and their figures. fixed: the rows of fixed cases."""

    def __init__(self, table: CaseTable, rows: IntArray | None = None) -> None:
        """Take rows of the table; by default all that can be read."""
        self.table, self.statistics = table, statistics_of(table)
        self.rows = np.flatnonzero(self.statistics.readable) if rows is None else rows
        self.fixed = self.rows[table.fixed[self.rows]]

    @cached_property
    def causes(self) -> IntArray:
        """The cause of every row, all spellings joined under the commonest; -1 for none; (table.size,)."""
        table = self.table
        said, joined = table.cause[self.rows], np.append(np.arange(len(table.cause_names)), -1)
        counts = np.bincount(table.cause[self.statistics.readable] + 1, minlength=joined.size)[1:]
        own = np.unique(said[said >= 0])
        commonest = own[np.argsort(-counts[own], kind="stable")][:CAUSES_POOLED]
        for codes in pool_causes(table, commonest.tolist()):
            joined[list(codes)] = codes[0]
        return joined[table.cause]

    def fix_minutes(self) -> FloatArray:
        """Return the recorded fix times, minutes, of the fixed repairs if any, else of all; (times,)."""
        minutes = self.table.fix_time_min[self.fixed if self.fixed.size else self.rows]
        return minutes[~np.isnan(minutes)].astype(np.float64)

    def fix_time(self) -> MedianInterval | None:
        """Return the median fix time, None where no time is recorded."""
        return intervals.median_interval(self.fix_minutes())

    def success(self) -> Share:
        """Return how many were fixed, of all of them."""
        return Share(count=len(self.fixed), total=len(self.rows))

    def comeback(self) -> ComebackRate:
        """Return the share of the fixed ones that came back within 90 days."""
        days, back = self.statistics.followed_days, self.statistics.came_back
        return intervals.comeback_rate(days[self.fixed].tolist(), back[self.fixed].tolist())

    def parts(self) -> tuple[PartFigures, ...]:
        """Return the use of parts in these cases."""
        rows, known = self.rows.tolist(), self.statistics.parts
        known |= {row: self.table.note(row).parts for row in rows if row not in known}
        return part_figures([known[row] for row in rows])

    def check(
        self, cause: int, chance: float, *, says: str, board: str, parts: Sequence[object], note: str = ""
    ) -> Check:
        """Return the check for a cause (a code). says: what to do, in a note's words. parts: used."""
        known, recorded = self.statistics, self.table.check_time_min[self.rows]
        of_cause, usual = float(known.check_min[cause]), known.usual_check_min
        minutes, assumed = check_minutes(says, recorded, of_cause=of_cause, usual=usual)
        return Check(
            root_cause=self.table.cause_names[cause], probability=chance, check=says, minutes=minutes,
            assumed=assumed, inside=is_inside(says, board), note=note,
            # A repair that took a part needs the set open, unless its board is outside.
            fixed_inside=bool(parts) and is_inside("", board),
            fix_times=fix_time_sample(self.fix_minutes(), known.spread),
        )  # fmt: skip

    def split(self, codes: IntArray, names: Sequence[str]) -> "list[tuple[str, CaseGroup]]":
        """Return the cases of each name of `codes` (-1 for none), most cases first, ties by name."""
        rows = self.rows[codes[self.rows] >= 0]
        order = np.argsort(codes[rows], kind="stable")
        found, starts = np.unique(codes[rows][order], return_index=True)
        parts = zip(found.tolist(), np.split(rows[order], starts[1:]), strict=False)  # no rows: one part
        groups = [(names[code], CaseGroup(self.table, own)) for code, own in parts]
        return sorted(groups, key=lambda group: (-group[1].rows.size, group[0]))

    def by_board(self, vocabulary: Vocabulary | None) -> "list[tuple[str, CaseGroup]]":
        """Return the cases of each board, under its commonest name; most cases first, ties by name."""
        names, cases = self.table.board_names, Counter(self.table.board.tolist())
        joined, first = np.append(np.arange(len(names)), -1), dict[frozenset[str], int]()
        for code in sorted(range(len(names)), key=lambda code: (-cases[code], names[code])):
            others = vocabulary.other_names(names[code]) if vocabulary else ()
            key = frozenset(each.casefold() for each in (names[code], *others))
            joined[code] = first.setdefault(key, code)
        return self.split(joined[self.table.board], names)

    def counts(self, column: str) -> tuple[tuple[str, int], ...]:
        """Return the names of a column with their number of cases, most cases first, ties by name."""
        return counts_by_name(getattr(self.table, column)[self.rows], getattr(self.table, f"{column}_names"))

    def most_common(self, column: str) -> str:
        """Return the most frequent name of a column, ties by name; "" where none is given."""
        return next((name for name, _ in self.counts(column)), "")

    def named(self, column: str) -> tuple[str, ...]:
        """Return the names of a column that these cases use, sorted."""
        return tuple(sorted(name for name, _ in self.counts(column)))


@dataclass(frozen=True, kw_only=True)
class BlinkFigures(FiguresRecord):
    """One blink pattern: what the service sheet says, and what it turned out to be, most cases first."""

    pattern: str
    service_sheet: str
    cases: int
    causes: tuple[tuple[str, Share], ...]
    fix_time: MedianInterval | None

    def as_json(self) -> dict[str, Any]:
        shares = [(cause, share.count, share.as_json("share")) for cause, share in self.causes]
        causes = [{"root_cause": cause, "cases": cases, **share} for cause, cases, share in shares]
        return {**super().as_json(), "causes": causes}


def _blinks(count: BlinkPattern, sheet: Sequence[tuple[BlinkPattern, str]], cases: CaseGroup) -> BlinkFigures:
    """Return the figures of one count, from cases whose pattern may be it; no colour means any colour."""

    def fits(pattern: BlinkPattern) -> bool:
        return pattern.shares_count(count) and count.colour in ("", pattern.colour)

    codes = [code for code, pattern in enumerate(cases.table.blink_patterns) if fits(pattern)]
    own = CaseGroup(cases.table, cases.rows[np.isin(cases.table.blink_code[cases.rows], codes)])
    found = counts_by_name(cases.causes[own.rows], cases.table.cause_names)
    return BlinkFigures(
        pattern=str(count), cases=len(own.rows), fix_time=own.fix_time(),
        service_sheet="; ".join(says for pattern, says in sheet if fits(pattern)),
        causes=tuple((cause, Share(count=times, total=len(own.rows))) for cause, times in found),
    )  # fmt: skip


def blinks_of(cases: CaseGroup, note: FamilyNote) -> tuple[BlinkFigures, ...]:
    """Return figures for each count of the cases and the service sheet. A doubtful case counts in several."""
    patterns, codes = cases.table.blink_patterns, np.unique(cases.table.blink_code[cases.rows]).tolist()
    known = [*(patterns[code] for code in codes if code >= 0), *dict(note.blink_meaning)]
    counts = sorted({count for pattern in known for count in pattern.counts})
    return tuple(_blinks(count, note.blink_meaning, cases) for count in counts)


def blinks_said(
    table: CaseTable, families: Mapping[str, FamilyNote], said: BlinkPattern | None, family: str
) -> tuple[BlinkFigures, ...]:
    """Return figures for each count that was said, as far as the family has any."""
    if said is None or not family:
        return ()
    cases = CaseGroup(table, np.flatnonzero(table.family == code_of(table.family_names, family)))
    sheet = families[family].blink_meaning if family in families else ()
    lines = (_blinks(count, sheet, cases) for count in replace(said, colour="").counts)
    return tuple(line for line in lines if line.service_sheet or line.cases)
