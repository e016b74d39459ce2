"""Measures against reference libraries and published examples."""

from __future__ import annotations

import ir_measures
import numpy as np
import pytest
from ir_measures import AP, RR, nDCG
from sklearn.metrics import brier_score_loss, log_loss, ndcg_score, top_k_accuracy_score

from search.evaluation.metrics import (
    average_precision,
    brier_score,
    discounted_gain,
    expected_calibration_error,
    mean_reciprocal_rank,
    normalised_gain,
    ranks_of,
    reliability,
    share_within,
)
from search.evaluation.metrics import (
    log_loss as our_log_loss,
)

# Croft, Metzler and Strohman, Search Engines, section 8.4.2: places of relevant results (from memory).
TWO_QUERIES = {"one": ((1, 3, 6, 9, 10), 5), "two": ((2, 5, 7), 3)}


def _relevant(places: tuple[int, ...]) -> list[bool]:
    return [place in places for place in range(1, 11)]


@pytest.mark.parametrize(("query", "expected"), [("one", 0.622222), ("two", 0.442857)])
def test_average_precision_of_the_textbook_example(query: str, expected: float) -> None:
    places, total = TWO_QUERIES[query]
    assert average_precision(_relevant(places), total) == pytest.approx(expected, abs=1e-6)


def test_average_precision_and_reciprocal_rank_agree_with_ir_measures() -> None:
    qrels = [
        ir_measures.Qrel(query, f"d{place}", 1)
        for query, (places, _) in TWO_QUERIES.items()
        for place in places
    ]
    run = [
        ir_measures.ScoredDoc(query, f"d{place}", 100.0 - place)
        for query in TWO_QUERIES
        for place in range(1, 11)
    ]
    theirs = ir_measures.calc_aggregate([AP, RR], qrels, run)
    ours = np.mean([average_precision(_relevant(places), total) for places, total in TWO_QUERIES.values()])
    assert ours == pytest.approx(theirs[AP], abs=1e-6)
    assert ours == pytest.approx(0.532540, abs=1e-6)
    firsts = np.array([min(places) for places, _ in TWO_QUERIES.values()], np.float64)
    assert mean_reciprocal_rank(firsts) == pytest.approx(theirs[RR], abs=1e-6)
    assert mean_reciprocal_rank(firsts) == pytest.approx(0.75)


def test_reciprocal_rank_by_hand() -> None:
    # First hits at places 3, 2, 1: (1/3 + 1/2 + 1) / 3.
    assert mean_reciprocal_rank(np.array([3.0, 2.0, 1.0])) == pytest.approx(0.611111, abs=1e-6)


def test_discounted_gain_agrees_with_scikit_learn_and_ir_measures() -> None:
    gains = [3, 2, 3, 0, 1, 2]
    scores = np.arange(6, 0, -1, dtype=np.float64)
    assert discounted_gain(gains) == pytest.approx(6.861127, abs=1e-6)
    assert normalised_gain(gains) == pytest.approx(0.960808, abs=1e-6)
    assert normalised_gain(gains) == pytest.approx(ndcg_score([gains], [scores]), abs=1e-6)
    qrels = [ir_measures.Qrel("q", f"d{at}", gain) for at, gain in enumerate(gains)]
    run = [ir_measures.ScoredDoc("q", f"d{at}", float(score)) for at, score in enumerate(scores)]
    theirs = ir_measures.calc_aggregate([nDCG], qrels, run)[nDCG]
    assert normalised_gain(gains) == pytest.approx(theirs, abs=1e-6)


def test_brier_score_of_scikit_learns_docstring() -> None:
    truth, claimed = np.array([0, 1, 1, 0]), np.array([0.1, 0.9, 0.8, 0.3])
    both = np.column_stack([1 - claimed, claimed])
    # Ours sums over both classes, theirs takes one: scikit-learn, brier_score_loss, docstring example .0375.
    assert brier_score(both, truth) / 2 == pytest.approx(0.0375)
    assert brier_score(both, truth) / 2 == pytest.approx(brier_score_loss(truth, claimed))


def test_brier_score_of_three_classes() -> None:
    # scikit-learn, brier_score_loss, docstring example of three classes; columns eggs, ham, spam.
    claimed = np.array([[0.8, 0.1, 0.1], [0.2, 0.7, 0.1], [0.2, 0.2, 0.6]])
    assert brier_score(claimed, np.array([0, 1, 2])) == pytest.approx(0.146667, abs=1e-6)


def test_log_loss_of_scikit_learns_docstring() -> None:
    claimed = np.array([[0.1, 0.9], [0.9, 0.1], [0.8, 0.2], [0.35, 0.65]])
    truth = np.array([1, 0, 0, 1])
    own = claimed[np.arange(4), truth]
    assert our_log_loss(own) == pytest.approx(0.216162, abs=1e-6)
    assert our_log_loss(own) == pytest.approx(log_loss(truth, claimed), abs=1e-6)


def test_calibration_error_by_hand() -> None:
    truth = np.array([0, 0, 0, 0, 1, 1, 1, 1, 1], np.bool_)
    claimed = np.array([0.1, 0.2, 0.3, 0.4, 0.65, 0.7, 0.8, 0.9, 1.0])
    table = reliability(claimed, truth, bins=3)
    assert [each.count for each in table] == [3, 2, 4]
    assert [each.observed for each in table] == pytest.approx([0.0, 0.5, 1.0])
    assert [each.mean_predicted for each in table] == pytest.approx([0.2, 0.525, 0.85])
    assert expected_calibration_error(table) == pytest.approx(0.138889, abs=1e-6)


def test_shares_within_places_agree_with_scikit_learn() -> None:
    rng = np.random.default_rng(7)
    claimed = rng.dirichlet(np.ones(6), 200)
    truth = np.concatenate([np.arange(6), rng.integers(0, 6, 194)])
    ranks = ranks_of(claimed, truth)
    for place in (1, 2, 3):
        assert share_within(ranks, place) == pytest.approx(top_k_accuracy_score(truth, claimed, k=place))
