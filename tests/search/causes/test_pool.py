from dataclasses import replace

import numpy as np
import pytest

from search.causes.linear import log_softmax
from search.causes.opinion import Opinion
from search.causes.pool import HeldOut, Tuning, fit_pool
from search.stats.arrays import FloatArray, IntArray

CASES = 200


def _opinion(name: str) -> Opinion:
    return Opinion(name=name, log_scores=lambda context: context.counts, weight=0.5, most=3.0)


def _held(seed: int) -> HeldOut:
    """Return what two opinions say: one that is often right, and one that guesses."""
    rng = np.random.default_rng(seed)
    truth = rng.integers(0, 3, CASES)
    right = log_softmax(np.eye(3)[truth] * 1.5 + rng.normal(size=(CASES, 3)))
    guess = log_softmax(rng.normal(size=(CASES, 3)))
    return _said(truth, np.stack([right, guess], axis=1))


def _said(truth: IntArray, scores: FloatArray) -> HeldOut:
    """Return what opinions say of cases of known causes, (n, opinions, n_causes)."""
    n, _, causes = scores.shape
    return HeldOut(truth, np.ones((n, causes), np.bool_), np.full(n, 1 / 3), scores)


OPINIONS = [_opinion("right"), _opinion("guess")]
USUAL = Tuning(weights={"right": 0.5, "guess": 0.5})


def _loss(held: HeldOut, tuning: Tuning) -> float:
    """Return the log loss by the definition of the pool."""
    joined = np.tensordot(held.scores, list(tuning.weights.values()), (1, 0))
    told = np.exp(log_softmax(joined))[np.arange(CASES), held.truth]
    mixed = (1 - tuning.prior_mixture) * told + tuning.prior_mixture * held.prior
    return -float(np.log(mixed).sum())


def test_pool_listens_to_who_is_right() -> None:
    weights = fit_pool(_held(1), USUAL, OPINIONS).weights
    assert weights["right"] > 0.8 > 0.4 > weights["guess"] >= 0.0


@pytest.mark.parametrize("seed", range(4))
def test_pool_never_loses_more_than_the_usual_weights(seed: int) -> None:
    held = _held(seed)
    tuned = fit_pool(held, USUAL, OPINIONS)
    assert _loss(held, tuned) <= _loss(held, USUAL)


def test_pool_stays_within_the_bounds_of_its_opinions() -> None:
    opinions = [replace(OPINIONS[0], most=0.6), replace(OPINIONS[1], least=0.4)]
    weights = fit_pool(_held(2), USUAL, opinions).weights
    assert weights["right"] <= 0.6
    assert weights["guess"] >= 0.4


def test_pool_leaves_out_causes_that_are_not_in_the_running() -> None:
    held = _held(1)
    known = np.column_stack([held.known, np.zeros(CASES, np.bool_)])
    wider = np.concatenate([held.scores, np.full((CASES, 2, 1), 50.0)], axis=2)
    one, other = (
        fit_pool(each, USUAL, OPINIONS) for each in (held, held._replace(known=known, scores=wider))
    )
    assert list(one.weights.values()) == pytest.approx(list(other.weights.values()), abs=1e-4)


def test_without_a_case_the_usual_weights_stand() -> None:
    held = _said(np.zeros(0, np.int64), np.zeros((0, 2, 3)))
    assert fit_pool(held, USUAL, OPINIONS).weights == USUAL.weights
