"""How long the whole job will take: opening, finding and fixing, over all causes that it may be."""

from dataclasses import dataclass
from itertools import accumulate
from statistics import median

import numpy as np

from search.planning.checks import CheckPlan, Sample
from search.records import JsonRecord
from search.stats.arrays import FloatArray, IntArray
from search.stats.intervals import group_medians

# With fewer than twenty values the 5 % quantile is just the smallest. From the smallest to the largest of
# five, a range holds two new jobs in three, not nine in ten.
ENOUGH_FIX_TIMES = 20
# Both chosen by us. test_bench_time.py would notice a change of any of the three.
ENOUGH_FOR_RATIOS = 5  # fix times of a cause from which scatter is measured about its median
SPREAD_POINTS = 199  # most ratios kept; more would not move a figure by a minute
QUANTILES = (0.05, 0.5, 0.95)  # each is the smallest value at or below which that share of the weight lies


def rounded(minutes: float) -> float:
    """Round an estimate from twenty minutes on to five: none is better than that (chosen by us)."""
    return 5.0 * round(minutes / 5) if minutes >= 20 else minutes


@dataclass(frozen=True, kw_only=True)
class BenchTime(JsonRecord):
    """The bench time to expect for the whole job: median and 90 % range, minutes."""

    median: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class FixTimeSpread:
    """What the whole notebook says of fix times.

    minutes, weights: (m,) all fix times, each value once; weights sum to 1. ratios: (k,) fix times divided by
    their own cause's median, all equally likely; [1.0] for no data.
    """

    minutes: FloatArray
    weights: FloatArray
    ratios: FloatArray


def fix_time_spread(fix_times_min: FloatArray, causes: IntArray) -> FixTimeSpread:
    """Return the spread of fix times. fix_times_min: (n,) minutes or nan. causes: (n,) codes.

    Ratios come from causes with at least ENOUGH_FOR_RATIOS times and a median above zero. If these have fewer
    than ENOUGH_FIX_TIMES times together, all times are divided by their common median, which is wider. Times
    lie closer to their own sample's median than to the true one, so each ratio is raised to sqrt(n / (n -
    1)), as in the correction of a sample variance.
    """
    present = ~np.isnan(fix_times_min)
    times, codes = fix_times_min[present], causes[present]
    minutes, counts = np.unique(times, return_counts=True)
    size = int(codes.max(initial=-1)) + 1
    median, count = group_medians(times, codes, size)[codes], np.bincount(codes, minlength=size)[codes]
    usable = (count >= ENOUGH_FOR_RATIOS) & (median > 0)
    ratios = np.ones(1)
    if np.count_nonzero(usable) >= ENOUGH_FIX_TIMES:
        ratios = (times[usable] / median[usable]) ** np.sqrt(count[usable] / (count[usable] - 1))
    elif times.size and np.median(times) > 0:
        ratios = times / np.median(times)
    if ratios.size > SPREAD_POINTS:
        middles = (np.arange(SPREAD_POINTS) + 0.5) / SPREAD_POINTS
        ratios = np.quantile(np.sort(ratios), middles, method="inverted_cdf")  # quicker when sorted
    return FixTimeSpread(minutes=minutes, weights=counts / max(times.size, 1), ratios=ratios)


def fix_time_sample(fix_times_min: FloatArray, spread: FixTimeSpread) -> Sample:
    """Return the distribution of a cause's fix time: minutes, and weights that sum to 1; empty for no data.

    With ENOUGH_FIX_TIMES recorded times it is those times. With n fewer, each has a weight of 1 /
    ENOUGH_FIX_TIMES, and the rest is the cause's median spread as other causes spread, wider by sqrt(1 + 1 /
    n) on the logarithmic scale, since a median of n times is uncertain itself (the factor of a normal
    prediction interval). With none it is the distribution of all fix times.
    """
    count = fix_times_min.size
    if count == 0:
        return spread.minutes, spread.weights
    if count >= ENOUGH_FIX_TIMES:
        minutes, cases = np.unique(fix_times_min, return_counts=True)
        return minutes, cases / count
    own = np.full(count, 1.0 / ENOUGH_FIX_TIMES)
    borrowed = median(fix_times_min.tolist()) * spread.ratios ** np.sqrt(1 + 1 / count)
    share = (ENOUGH_FIX_TIMES - count) / ENOUGH_FIX_TIMES / spread.ratios.size
    return np.concatenate((fix_times_min, borrowed)), np.concatenate((own, np.full(borrowed.size, share)))


def expected_bench_time(
    plan: CheckPlan, *, not_in_notebook: float, spread: FixTimeSpread
) -> BenchTime | None:
    """Return the bench time to expect: finding plus fixing, over the causes; None when no fix time is known.

    Probabilities are taken relative to their sum. not_in_notebook: the chance that it is none of them. Then
    all checks were done, the set is open, and the fix takes what fixes take in general (spread).
    """
    values, weights = [], []
    closed, done = plan.opening_min, 0.0  # minutes that a repair inside still has to pay for the opening
    for check, done in zip(plan.checks, accumulate(plan.step_min), strict=True):
        closed = 0.0 if check.inside else closed
        minutes, shares = check.fix_times
        values.append(done + (closed if check.fixed_inside else 0.0) + minutes)
        weights.append(check.probability * shares)
    values.append(done + closed + spread.minutes)
    weights.append(not_in_notebook * spread.weights)
    minutes, weight = np.concatenate(values), np.concatenate(weights)
    if not weight.any():
        return None
    # Slightly less than the share: ten times 0.1 must reach 1.
    shares = np.array(QUANTILES) * (1 - 1e-12)
    order = np.argsort(minutes, kind="stable")
    reached = weight[order].cumsum()
    low, median, high = minutes[order[np.searchsorted(reached, shares * reached[-1])]].tolist()
    return BenchTime(median=median, low=low, high=high)
