"""Holm's adjustment and the exact trend test against statsmodels and scipy."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from search.families.trends import holm, trend_p_value


def test_holm_agrees_with_statsmodels() -> None:
    rng = np.random.default_rng(1979)
    for size in (1, 2, 7, 40):
        p_values = rng.random(size) ** 3
        adjusted = multipletests(p_values, method="holm")[1]
        assert holm(p_values.tolist()) == pytest.approx(adjusted.tolist())


def test_trend_over_two_years_is_the_binomial_tail() -> None:
    rng = np.random.default_rng(8)
    for _ in range(100):
        counts, more = rng.integers(0, 40, size=2), rng.integers(1, 200, size=2)
        exposure = counts + more
        total, later = int(counts.sum()), int(counts[1])
        share = exposure[1] / exposure.sum()
        at_most = stats.binom.cdf(later, total, share)
        at_least = stats.binom.sf(later - 1, total, share)
        expected = min(1.0, 2 * min(at_most, at_least)) if total else 1.0
        assert trend_p_value(counts, exposure) == pytest.approx(expected, abs=1e-10)
