"""Intervals against published tables and against statsmodels and scipy."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from search.stats.intervals import median_interval, median_ranks, wilson_interval


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high", "tolerance"),
    [
        # Newcombe 1998, Two-sided confidence intervals for the single proportion, Table I (read second-hand).
        pytest.param(81, 263, 0.2553, 0.3662, 5e-5, id="newcombe-81-of-263"),
        # The same table, from memory.
        pytest.param(0, 20, 0.0, 0.1611, 5e-5, id="newcombe-0-of-20"),
        # The R package binom's binom.confint, as printed in statsmodels' own tests.
        pytest.param(18, 20, 0.698966, 0.972134, 1e-6, id="binom-confint-18-of-20"),
    ],
)
def test_wilson_interval_is_as_published(
    successes: int, trials: int, low: float, high: float, tolerance: float
) -> None:
    assert wilson_interval(successes, trials) == pytest.approx((low, high), abs=tolerance)


def test_wilson_interval_agrees_with_statsmodels_and_scipy() -> None:
    rng = np.random.default_rng(20261121)
    for trials in rng.integers(1, 3000, size=200).tolist():
        successes = int(rng.integers(0, trials + 1))
        ours = wilson_interval(successes, trials)
        theirs = proportion_confint(successes, trials, alpha=0.05, method="wilson")
        assert ours == pytest.approx(theirs, abs=1e-6)
        other = stats.binomtest(successes, trials).proportion_ci(confidence_level=0.95, method="wilson")
        assert ours == pytest.approx((other.low, other.high), abs=1e-6)


# The table of confidence intervals for the population median in the appendix of a statistics text.
@pytest.mark.parametrize(
    ("size", "ranks", "coverage"),
    [
        (6, (1, 6), 0.96875),
        (9, (2, 8), 0.960938),
        (20, (6, 15), 0.958611),
        (100, (40, 61), 0.964800),
    ],
)
def test_median_ranks_are_as_tabled(size: int, ranks: tuple[int, int], coverage: float) -> None:
    assert median_ranks(size) == ranks
    assert 1 - 2 * stats.binom.cdf(ranks[0] - 1, size, 0.5) == pytest.approx(coverage, abs=1e-6)


def test_median_interval_of_the_nineteen_published_values() -> None:
    """Source: the example in the documentation of ci.median in the R package statpsych."""
    said = "30.2 20.4 15.1 10.2 10.5 60.8 20.8 25.0 20.7 30.9 10.8 5.1 50.9 40.0 20.9 10.8 0 20.5 50.8"
    interval = median_interval(np.array([float(word) for word in said.split()]))
    assert (interval.median, interval.low, interval.high) == (20.7, 10.8, 30.9)


def test_median_interval_agrees_with_scipy_quantile_test() -> None:
    rng = np.random.default_rng(7)
    for size in rng.integers(6, 400, size=60).tolist():
        values = rng.normal(60, 20, size=size)
        interval = median_interval(values)
        theirs = stats.quantile_test(values, q=float(np.median(values)), p=0.5).confidence_interval(0.95)
        assert (interval.low, interval.high) == pytest.approx((theirs.low, theirs.high))
        assert interval.median == pytest.approx(np.median(values))
