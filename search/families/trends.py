"""Weak points of all families: causes that recur, boards that fail, causes on the rise or fall."""

from dataclasses import dataclass
from itertools import starmap
from typing import Any

import numpy as np

from kb.terms import Vocabulary
from search.families.case_group import CaseGroup
from search.families.family_figures import years_of
from search.index.case_table import CaseTable
from search.records import JsonRecord
from search.stats.arrays import FloatArray, IntArray
from search.stats.intervals import Share

# Chosen by us: with fewer cases nearly any split between lately and before may be chance, and each test more
# makes the threshold of all stricter.
FEWEST_TO_TEST = 5
FALSE_ALARM_RATE = 0.05
LATELY_DAYS = 365


def change_p_value(recent: IntArray, cases: IntArray, recent_share: float) -> FloatArray:
    """Return the two-sided p-value for each cause coming up lately as often as before; (causes,).

    If a cause is steady, each of its cases falls into the recent span with a chance equal to the share of all
    cases there: a binomial test. The smaller tail counts twice, at most 1.
    Source: Przyborowski and Wilenski 1940, comparing two Poisson rates (from memory).
    """
    from scipy.special import bdtr, bdtrc  # here, so that a search does not load scipy

    at_most, at_least = bdtr(recent, cases, recent_share), bdtrc(recent - 1.0, cases, recent_share)
    p_values: FloatArray = np.minimum(1.0, 2 * np.minimum(at_most, at_least))
    return p_values


@dataclass(frozen=True, kw_only=True)
class Trend(JsonRecord):
    """One cause over the years. counts: its cases in each year; totals: those of all causes.

    recent: cases in the year up to the newest note. adjusted: p_value times the number of causes tested
    (Bonferroni). direction: "rising" or "falling" if adjusted is at most FALSE_ALARM_RATE, else "".
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
    rows = cases.rows[cases.causes[cases.rows] >= 0]
    if not rows.size:
        return ()
    days, causes, size = table.date_days[rows], cases.causes[rows], len(table.cause_names)
    years = years_of(days)
    first, span = int(years.min()), int(years.max() - years.min()) + 1
    by_year = np.bincount(causes * span + (years - first), minlength=size * span).reshape(size, span)
    totals, cases_of = tuple(by_year.sum(axis=0).tolist()), by_year.sum(axis=1)
    lately = days > days.max() - LATELY_DAYS
    recent, share = np.bincount(causes[lately], minlength=size), float(lately.mean())
    tested = np.flatnonzero(cases_of >= FEWEST_TO_TEST)

    def trend(code: int, p_value: float) -> Trend:
        adjusted = min(1.0, p_value * tested.size)
        more = "rising" if recent[code] > share * cases_of[code] else "falling"
        return Trend(
            root_cause=table.cause_names[code], years=tuple(range(first, first + span)),
            counts=tuple(by_year[code].tolist()), totals=totals, recent=int(recent[code]), p_value=p_value,
            adjusted=adjusted, direction=more if adjusted <= FALSE_ALARM_RATE else "",
        )  # fmt: skip

    p_values = change_p_value(recent[tested], cases_of[tested], share).tolist()
    trends = map(trend, tested.tolist(), p_values)
    return tuple(sorted(trends, key=lambda each: (each.p_value, each.root_cause)))


@dataclass(frozen=True, kw_only=True)
class Recurring(JsonRecord):
    """A root cause or a board: its share of all cases, the share that was fixed, and cases by family."""

    name: str
    share: Share
    success: Share
    families: tuple[tuple[str, int], ...]

    def as_json(self) -> dict[str, Any]:
        low, high = self.share.interval
        return {
            "name": self.name, "cases": self.share.count, "fixed": self.success.count,
            "families": self.families, "share": self.share.value, "low": low, "high": high,
        }  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class WeakPoints(JsonRecord):
    """Causes of two families or more, most families first; boards, most cases first; trends of causes."""

    cases: int
    causes: tuple[Recurring, ...]
    boards: tuple[Recurring, ...]
    trends: tuple[Trend, ...]


def weak_points(table: CaseTable, *, vocabulary: Vocabulary | None = None) -> WeakPoints:
    """Return the weak points of all readable cases. vocabulary: which names mean one board."""
    everything = CaseGroup(table)
    total = len(everything.rows)

    def recurring(name: str, own: CaseGroup) -> Recurring:
        share = Share(count=len(own.rows), total=total)
        return Recurring(name=name, share=share, success=own.success(), families=own.counts("family"))

    by_cause = everything.split(everything.causes, table.cause_names)
    causes = [each for each in starmap(recurring, by_cause) if len(each.families) > 1]
    causes.sort(key=lambda cause: (-len(cause.families), -cause.share.count, cause.name))
    boards = tuple(starmap(recurring, everything.by_board(vocabulary)))
    return WeakPoints(cases=total, causes=tuple(causes), boards=boards, trends=find_trends(everything))
