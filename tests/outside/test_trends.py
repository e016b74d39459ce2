"""The test for change against scipy's binomial test."""

import numpy as np
import pytest
from scipy import stats

from search.families.trends import change_p_value


def test_change_p_value_is_twice_scipys_smaller_tail() -> None:
    rng = np.random.default_rng(8)
    for _ in range(100):
        cases = rng.integers(1, 60, size=8)
        recent, share = rng.integers(0, cases + 1), float(rng.uniform(0.05, 0.95))
        ours = change_p_value(recent, cases, share)
        for k, n, p_value in zip(recent.tolist(), cases.tolist(), ours.tolist(), strict=True):
            tails = [stats.binomtest(k, n, share, alternative=way).pvalue for way in ("less", "greater")]
            assert p_value == pytest.approx(min(1.0, 2 * min(tails)), abs=1e-10)
