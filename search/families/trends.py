"""Weak points across the notebook: causes that recur, boards that fail, and what is rising or falling."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from kb.terms import Vocabulary
from search.families.case_group import CaseGroup
from search.families.summaries import years_of
from search.index.case_table import CaseTable
from search.records import JsonRecord
from search.stats.arrays import FloatArray, IntArray
from search.stats.intervals import Share

# Chosen by us: with fewer cases hardly any split between lately and before can be told from chance, and each
# further test makes the others' threshold stricter. test_rare_causes_are_not_tested would notice.
FEWEST_TO_TEST = 5
FALSE_ALARM_RATE = 0.05
LATELY_DAYS = 365


def change_p_value(recent: IntArray, cases: IntArray, recent_share: float) -> FloatArray:
    """Return the two-sided p-value that causes come up lately as often as before.

    Given its number of cases, each case of a steady cause falls into the recent span with the share that all
    cases have there: a binomial test. The smaller tail counts twice, at most 1.

    Args:
        recent: recent cases of each cause, shape (causes,), 0 <= recent <= cases.
        cases: all cases of each cause, shape (causes,).
        recent_share: recent cases of all causes by cases of all causes, within [0, 1].

    Returns:
        Shape (causes,), within [0, 1].

    Source:
        Przyborowski and Wilenski 1940, comparing two Poisson rates (from memory).
    """
    from scipy.special import bdtr, bdtrc  # here, so that a search does not load scipy

    at_most, at_least = bdtr(recent, cases, recent_share), bdtrc(recent - 1.0, cases, recent_share)
    p_values: FloatArray = np.minimum(1.0, 2 * np.minimum(at_most, at_least))
    return p_values


@dataclass(frozen=True, kw_only=True)
class Trend(JsonRecord):
    """One cause over the years.

    counts: cases a year, of `totals` cases of all causes. recent: cases in the year up to the newest note.
    p_value: of change_p_value; adjusted: times the number of causes tested (Bonferroni), at most 1.
    direction: "rising" or "falling" where adjusted is at most FALSE_ALARM_RATE, else "". The share of all
    cases is tested, so that a busier shop is no rise.
    """

    root_cause: str
    years: tuple[int, ...]
    counts: tuple[int, ...]
    totals: tuple[int, ...]
    recent: int
    p_value: float
    adjusted: float
    direction: str


def find_trends(cases: CaseGroup) -> tuple[Trend, ...]:
    """Return every cause with FEWEST_TO_TEST cases or more, the surest trend first, then by name."""
    table = cases.table
    rows = cases.rows[table.cause[cases.rows] >= 0]
    if not rows.size:
        return ()
    days, causes = table.date_days[rows], table.cause[rows]
    years = years_of(days)
    first, span = int(years.min()), int(years.max() - years.min()) + 1
    size = len(table.cause_names)
    by_year = np.bincount(causes * span + (years - first), minlength=size * span).reshape(size, span)
    lately = days > days.max() - LATELY_DAYS
    recent, share = np.bincount(causes[lately], minlength=size), float(lately.mean())
    tested = np.flatnonzero(by_year.sum(axis=1) >= FEWEST_TO_TEST)
    all_cases = by_year[tested].sum(axis=1)
    p_values = change_p_value(recent[tested], all_cases, share)
    trends = []
    for code, number, p_value in zip(tested.tolist(), all_cases.tolist(), p_values.tolist(), strict=True):
        adjusted = min(1.0, p_value * tested.size)
        direction = "rising" if recent[code] > share * number else "falling"
        trends.append(
            Trend(
                root_cause=table.cause_names[code],
                years=tuple(range(first, first + span)),
                counts=tuple(by_year[code].tolist()),
                totals=tuple(by_year.sum(axis=0).tolist()),
                recent=int(recent[code]),
                p_value=p_value,
                adjusted=adjusted,
                direction=direction if adjusted <= FALSE_ALARM_RATE else "",
            )
        )
    return tuple(sorted(trends, key=lambda trend: (trend.p_value, trend.root_cause)))


@dataclass(frozen=True, kw_only=True)
class Recurring(JsonRecord):
    """A root cause or a board over the families: how often of all cases, how it ends, and where it fails.

    families: names with counts, most cases first.
    """

    name: str
    share: Share
    success: Share
    families: tuple[tuple[str, int], ...]

    def as_json(self) -> dict[str, Any]:
        """Return the line as it stands in the JSON answer; share, low and high within [0, 1]."""
        low, high = self.share.interval
        cases, fixed = self.share.count, self.success.count
        counts = {"name": self.name, "cases": cases, "fixed": fixed, "families": self.families}
        return {**counts, "share": self.share.value, "low": low, "high": high}


def _recurring(name: str, own: CaseGroup, everything: CaseGroup) -> Recurring:
    return Recurring(
        name=name,
        share=own.share_of(everything),
        success=own.success(),
        families=own.counts(own.table.family, own.table.family_names),
    )


@dataclass(frozen=True, kw_only=True)
class WeakPoints(JsonRecord):
    """What fails across the notebook.

    causes: seen in two families or more, most families first. boards: most cases first. trends: every tested
    cause, the surest first; only those with a direction are more than chance.
    """

    cases: int
    causes: tuple[Recurring, ...]
    boards: tuple[Recurring, ...]
    trends: tuple[Trend, ...]


def weak_points(table: CaseTable, *, vocabulary: Vocabulary | None = None) -> WeakPoints:
    """Return the weak points of all readable cases.

    Args:
        table: the cases of the notebook.
        vocabulary: which names mean one board; without it only spellings that differ in case are one.
    """
    everything = CaseGroup(table)
    causes = [_recurring(cause, own, everything) for cause, own in everything.by_cause()]
    boards = [_recurring(board, own, everything) for board, own in everything.by_board(vocabulary)]
    widest = sorted(causes, key=lambda cause: (-len(cause.families), -cause.share.count, cause.name))
    return WeakPoints(
        cases=int(everything.rows.size),
        causes=tuple(cause for cause in widest if len(cause.families) > 1),
        boards=tuple(boards),
        trends=find_trends(everything),
    )
