"""Intervals that say how little a few cases tell: for a share, and for a median."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from search.stats.arrays import FloatArray, IntArray


def normal_quantile(probability: float) -> float:
    """Return the standard normal quantile.

    probability: within (0, 1).
    Raises: statistics.StatisticsError outside that range.
    """
    return NormalDist().inv_cdf(probability)


def wilson_interval(successes: int, trials: int, *, z: float = 1.959964) -> tuple[float, float]:
    """Return the Wilson score interval for a share.

    successes, trials: counts, 0 <= successes <= trials; trials == 0 gives (0.0, 1.0).
    z: standard normal quantile, 1.959964 for 95 %.
    Returns: lower and upper bound, each within [0, 1].
    Raises: ValueError when the counts do not fit.
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1; Wilson 1927 (from memory).
    """
    if not 0 <= successes <= trials:
        raise ValueError(f"successes {successes} of {trials} trials; both counts, the first not the larger")
    if trials == 0:
        return 0.0, 1.0
    share = successes / trials
    squared = z * z / trials
    centre = (share + squared / 2) / (1 + squared)
    half = z * math.sqrt(share * (1 - share) / trials + squared / (4 * trials)) / (1 + squared)
    # At 0 and at all the exact bound is 0 or 1; rounding must not leave 1e-17 there.
    low = 0.0 if successes == 0 else max(0.0, centre - half)
    high = 1.0 if successes == trials else min(1.0, centre + half)
    return low, high


@dataclass(frozen=True, kw_only=True)
class MedianInterval:
    """A sample median and its interval; low and high are None where no such interval exists."""

    median: float
    low: float | None
    high: float | None
    size: int


@lru_cache(maxsize=1024)
def median_ranks(size: int, *, confidence: float = 0.95) -> tuple[int, int] | None:
    """Return the ranks of the order statistics that enclose the median.

    size: number of values, at least 1. confidence: within (0, 1).
    Returns: (r, size - r + 1), ranks from 1, with the largest r for which
    1 - 2 * BinomialCDF(r - 1; size, 1/2) >= confidence; None where even (1, size) falls short.
    Source: the table of confidence intervals for the population median found in statistics textbooks'
    appendices; Conover, Practical Nonparametric Statistics, section 3.2 (from memory).
    """
    counts = np.arange(1, size + 1, dtype=np.float64)
    log_factorials = np.concatenate(([0.0], np.cumsum(np.log(counts))))
    log_masses = log_factorials[-1] - log_factorials - log_factorials[::-1] - size * math.log(2.0)
    coverage = 1.0 - 2.0 * np.cumsum(np.exp(log_masses))
    # coverage[k] belongs to rank k + 1; beyond the middle it is negative, so counting is enough.
    rank = int(np.count_nonzero(coverage >= confidence - 1e-12))
    return (rank, size - rank + 1) if rank else None


def median_interval(values: Sequence[float], *, confidence: float = 0.95) -> MedianInterval:
    """Return the median of values with its distribution-free interval.

    values: at least one finite number, in any order; an even count takes the mean of the middle two.
    Returns: bounds are values of the sample; None with too few values (fewer than 6 at 95 %).
    Raises: ValueError when values is empty.
    Source: as median_ranks.
    """
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    if ordered.size == 0:
        raise ValueError("no values; a median needs at least one")
    ranks = median_ranks(int(ordered.size), confidence=confidence)
    low, high = (float(ordered[ranks[0] - 1]), float(ordered[ranks[1] - 1])) if ranks else (None, None)
    return MedianInterval(median=float(np.median(ordered)), low=low, high=high, size=int(ordered.size))


def group_medians(values: FloatArray, groups: IntArray, size: int) -> FloatArray:
    """Return the median of the values of each group.

    values: (n,), nan counts as absent. groups: (n,) within [0, size); negative counts as absent.
    Returns: (size,), nan for a group without values; an even count takes the mean of the middle two.
    """
    present = ~np.isnan(values) & (groups >= 0)
    kept, kept_groups = values[present], groups[present]
    order = np.lexsort((kept, kept_groups))
    kept, kept_groups = kept[order], kept_groups[order]
    counts = np.bincount(kept_groups, minlength=size)
    starts = np.cumsum(counts) - counts
    medians = np.full(size, np.nan)
    filled = np.flatnonzero(counts)
    low = starts[filled] + (counts[filled] - 1) // 2
    high = starts[filled] + counts[filled] // 2
    medians[filled] = (kept[low] + kept[high]) / 2
    return medians
