"""Intervals, which show how little a few cases tell: of a proportion, a median, and a comeback rate."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np

from search.stats.arrays import FloatArray, IntArray, narrow

Z_95 = 1.959964  # standard normal quantile at 0.975, for two-sided 95 % intervals
ENOUGH_FOR_PERCENT = 5  # cases; with fewer a percentage says too much; chosen by us (test_summaries)
COMEBACK_DAYS = 90  # chosen by us; shown with every rate


def wilson_interval(successes: int, trials: int) -> tuple[float, float]:
    """Return the Wilson score interval for a proportion: lower and upper bound, each within [0, 1].

    Without scipy, which takes a second to load. No trials give (0.0, 1.0).
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1; Wilson 1927 (from memory).
    """
    if trials == 0:
        return 0.0, 1.0
    share = successes / trials
    squared = Z_95 * Z_95 / trials
    centre = (share + squared / 2) / (1 + squared)
    half = Z_95 * math.sqrt(share * (1 - share) / trials + squared / (4 * trials)) / (1 + squared)
    # With no success or all, a bound is exactly 0 or 1; rounding must not leave 1e-17.
    low = 0.0 if successes == 0 else max(0.0, centre - half)
    high = 1.0 if successes == trials else min(1.0, centre + half)
    return low, high


@dataclass(frozen=True, kw_only=True)
class Share:
    """A count out of a total, 0 <= count <= total. Of a total of 0 the share is 0, its interval (0, 1)."""

    count: int
    total: int

    @property
    def value(self) -> float:
        """The share within [0, 1]."""
        return self.count / self.total if self.total else 0.0

    @property
    def interval(self) -> tuple[float, float]:
        """Wilson's 95 % interval."""
        return wilson_interval(self.count, self.total)

    @property
    def shown(self) -> bool:
        """Whether a percentage may be shown: there are enough cases."""
        return self.total >= ENOUGH_FOR_PERCENT

    def as_json(self, name: str) -> dict[str, float | bool]:
        """Return the share, its bounds, and whether to show it, under keys that begin with `name`."""
        low, high = self.interval
        return {name: self.value, f"{name}_low": low, f"{name}_high": high, f"{name}_shown": self.shown}


@dataclass(frozen=True, kw_only=True)
class MedianInterval:
    """A sample median and its 95 % interval. low, high: None with fewer than 6 values."""

    median: float
    low: float | None
    high: float | None
    size: int


@lru_cache(maxsize=1024)
def median_ranks(size: int) -> tuple[int, int] | None:
    """Return the ranks of the two values that enclose the median with at least 95 % confidence.

    That is (r, size - r + 1), ranks from 1, with the largest r for which 2 BinomialCDF(r - 1; size, 1/2)
    <= 0.05; None where even (1, size) falls short.
    Source: Conover, Practical Nonparametric Statistics, section 3.2 (from memory).
    """
    from scipy.special import bdtr  # here, so that a search does not load scipy

    rank = int(np.count_nonzero(2 * bdtr(np.arange((size + 1) // 2, dtype=float), size, 0.5) <= 0.05))
    return (rank, size - rank + 1) if rank else None


def median_interval(values: FloatArray) -> MedianInterval | None:
    """Return the median of finite values and its distribution-free 95 % interval; None without values."""
    if not values.size:
        return None
    ordered = np.sort(values.astype(np.float64)).tolist()
    ranks = median_ranks(len(ordered))
    low, high = (ordered[ranks[0] - 1], ordered[ranks[1] - 1]) if ranks else (None, None)
    return MedianInterval(median=float(np.median(ordered)), low=low, high=high, size=len(ordered))


def group_medians(values: FloatArray, groups: IntArray, size: int) -> FloatArray:
    """Return the median of each group, (size,), nan for none; nan values and negative groups do not count."""
    present = ~np.isnan(values) & (groups >= 0)
    values, groups = values[present], groups[present]
    counts = np.bincount(groups, minlength=size)
    met, medians = counts > 0, np.full(size, np.nan)
    order = np.argsort(values)
    order = order[np.argsort(narrow(groups)[order], kind="stable")]
    starts, ordered = (np.cumsum(counts) - counts)[met], values[order]
    lower, upper = (ordered[starts + each[met] // 2] for each in (counts - 1, counts))
    medians[met] = (lower + upper) / 2
    return medians


def kaplan_meier(
    durations: Sequence[float], happened: Sequence[bool], time: float
) -> tuple[float, float, float]:
    """Return the Kaplan-Meier estimate of the share that survives a time, within [0, 1], and its 95 % bounds.

    Without scipy, which takes a second to load. durations: (n,), not negative, in any unit. happened: (n,),
    False for censored; at equal times events come before censoring. time: events at this time count. If all
    or none survive, the log-log interval does not exist, and the bounds are the share itself.
    Source: Kaplan and Meier 1958; Greenwood 1926; the log-log interval: Kalbfleisch and Prentice, The
    Statistical Analysis of Failure Time Data (all from memory).
    """
    spans, came = np.asarray(durations, np.float64), np.asarray(happened, np.bool_)
    times, events = np.unique(spans[came & (spans <= time)], return_counts=True)
    at_risk = spans.size - np.searchsorted(np.sort(spans), times, side="left")
    share = float(np.prod(1.0 - events / at_risk))
    if not 0.0 < share < 1.0:
        return share, share, share
    error = share * math.sqrt(np.sum(events / (at_risk * (at_risk - events))))
    width = Z_95 * error / (share * abs(math.log(share)))
    return share, share ** math.exp(width), share ** math.exp(-width)


@dataclass(frozen=True, kw_only=True)
class ComebackRate:
    """The share of fixed repairs that come back within COMEBACK_DAYS, within [0, 1], and its 95 % interval.

    comebacks: so far, of `repairs`. still_followed: repairs followed for all the days. rate, low, high: None
    until a repair was followed so long (or all have come back).
    """

    repairs: int
    comebacks: int
    still_followed: int
    rate: float | None = None
    low: float | None = None
    high: float | None = None


def comeback_rate(followed_days: Sequence[float], came_back: Sequence[bool]) -> ComebackRate:
    """Return the share of repairs that come back within COMEBACK_DAYS: one minus Kaplan-Meier's.

    If none or all came back, the interval is Wilson's over the repairs followed for all the days.
    followed_days: (n,) from repair to comeback where came_back, else to the newest note. came_back: (n,).
    """
    spans, back = np.asarray(followed_days, np.float64), np.asarray(came_back, np.bool_)
    comebacks = int(np.count_nonzero(back & (spans <= COMEBACK_DAYS)))
    followed = int(np.count_nonzero(spans >= COMEBACK_DAYS))
    counted = partial(ComebackRate, repairs=spans.size, comebacks=comebacks, still_followed=followed)
    share, low, high = kaplan_meier(followed_days, came_back, COMEBACK_DAYS)
    # After the last followed repair the curve says nothing, unless it is zero by then.
    if not spans.size or (not followed and share > 0):
        return counted()
    low, high = 1.0 - high, 1.0 - low
    if share in (0.0, 1.0):
        low, high = wilson_interval(0, followed) if share else wilson_interval(spans.size, spans.size)
    return counted(rate=1.0 - share, low=low, high=high)
