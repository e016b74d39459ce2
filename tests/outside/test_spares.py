"""The gamma-Poisson prediction against scipy and against a simulation of its own story."""

import numpy as np
from scipy import stats

from search.families.spares import PRIOR_REPAIRS, PRIOR_SHAPE, shelf_count


def test_shelf_count_is_scipys_quantile() -> None:
    rng = np.random.default_rng(27)
    for _ in range(200):
        repairs, used = int(rng.integers(0, 80)), int(rng.integers(0, 120))
        behind = PRIOR_REPAIRS + repairs
        expected = stats.nbinom.ppf(0.9, PRIOR_SHAPE + used, behind / (behind + 10))
        assert shelf_count(used, repairs) == expected


def test_shelf_count_suffices_nine_times_of_ten() -> None:
    """Draw rates from the posterior and uses from the rates, as Bayesian Data Analysis 2.6 tells it."""
    rng = np.random.default_rng(28)
    for used, repairs in ((0, 4), (3, 10), (12, 30)):
        rates = rng.gamma(PRIOR_SHAPE + used, 1 / (PRIOR_REPAIRS + repairs), size=200_000)
        uses = rng.poisson(rates * 10)
        keep = shelf_count(used, repairs)
        # Four standard errors of a share of 200,000 draws.
        assert np.mean(uses <= keep) > 0.9 - 0.0027
        assert np.mean(uses <= keep - 1) < 0.9 + 0.0027
