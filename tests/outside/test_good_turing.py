"""The chance of a cause not seen yet, against a published example and draws from a known distribution."""

import numpy as np
import pytest

from search.causes.priors import new_share
from search.stats.arrays import IntArray


def chance_of_new(causes: IntArray) -> float:
    """Return the product's chance of a new cause after cases with these causes."""
    return new_share(int((np.bincount(causes) == 1).sum()) if len(causes) else 0, len(causes))


def test_new_share_of_the_textbook_catch_of_fish() -> None:
    # Jurafsky and Martin, Speech and Language Processing (2nd edition, section 4.5.2, from memory): of 18
    # fish 10 are carp, 3 perch, 2 whitefish, 1 trout, 1 salmon, 1 eel; the next is new with chance 3/18.
    catch = np.repeat(np.arange(6), [10, 3, 2, 1, 1, 1])
    once = int((np.bincount(catch) == 1).sum())
    assert new_share(once, len(catch), kappa=0.0) == pytest.approx(3 / 18)
    # Ours adds half a case in one, which moves 18 cases by less than .02.
    assert chance_of_new(catch) == pytest.approx(3.5 / 19)


@pytest.mark.parametrize("exponent", [0.8, 1.1, 1.5])
@pytest.mark.parametrize("cases", [60, 400])
def test_new_share_follows_draws_from_a_known_distribution(exponent: float, cases: int) -> None:
    rng = np.random.default_rng(20260318)
    share = 1 / np.arange(1, 301) ** exponent
    share /= share.sum()
    estimated, real = [], []
    for _ in range(400):
        drawn = rng.choice(len(share), cases, p=share)
        estimated.append(chance_of_new(drawn))
        real.append(share[np.setdiff1d(np.arange(len(share)), drawn)].sum())
    gap = np.array(estimated) - np.array(real)
    # Good-Turing is biased by less than 1 / cases (Good 1953, from memory), our half case by at most
    # .5 / (cases + 1); on top comes the noise of the mean of 400 draws, three standard errors of it.
    noise = 3 * gap.std() / np.sqrt(len(gap))
    assert abs(gap.mean()) <= 1.5 / cases + noise
    assert noise < 0.02


def test_new_share_is_never_certain() -> None:
    assert 0 < chance_of_new(np.zeros(500, np.int64)) < 0.01
    assert 0.9 < chance_of_new(np.arange(500)) < 1
    assert chance_of_new(np.empty(0, np.int64)) == 0.5
