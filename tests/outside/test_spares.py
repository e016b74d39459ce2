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
