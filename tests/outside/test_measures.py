"""Measures against reference libraries and published examples."""

import numpy as np
import pytest
from sklearn.metrics import brier_score_loss, log_loss, roc_auc_score, top_k_accuracy_score

from search.causes.odds import CauseOdds
from search.evaluation.evaluate import Answered, Evaluation, measure
from search.evaluation.metrics import area_under_curve, expected_calibration_error, reliability


def measured(claimed: np.ndarray, truth: np.ndarray) -> Evaluation:
    """Measure claims, (n, classes), of which each row sums to 1."""
    none = np.zeros(1)
    answers = []
    for row, true in zip(claimed, truth.tolist(), strict=True):
        odds = CauseOdds(
            probability=row, not_in_notebook=0.0, case_weight=none, word_similarity=none, similarity=none
        )
        answers.append(Answered(odds=odds, truth=true, fold=0))
    return measure(answers, meaning=True)


def test_reciprocal_rank_by_hand() -> None:
    # First hits at places 3, 2, 1: (1/3 + 1/2 + 1) / 3.
    claimed = np.array([[0.2, 0.5, 0.3], [0.3, 0.5, 0.2], [0.5, 0.3, 0.2]])
    assert measured(claimed, np.array([0, 0, 0])).mrr == pytest.approx(0.611111, abs=1e-6)


def test_brier_score_of_scikit_learns_docstring() -> None:
    truth, claimed = np.array([0, 1, 1, 0]), np.array([0.1, 0.9, 0.8, 0.3])
    both = measured(np.column_stack([1 - claimed, claimed]), truth).brier
    # Ours sums over both classes, theirs takes one: scikit-learn, brier_score_loss, docstring example .0375.
    assert both / 2 == pytest.approx(0.0375)
    assert both / 2 == pytest.approx(brier_score_loss(truth, claimed))


def test_brier_score_of_three_classes() -> None:
    # scikit-learn, brier_score_loss, docstring example of three classes; columns eggs, ham, spam.
    claimed = np.array([[0.8, 0.1, 0.1], [0.2, 0.7, 0.1], [0.2, 0.2, 0.6]])
    assert measured(claimed, np.array([0, 1, 2])).brier == pytest.approx(0.146667, abs=1e-6)


def test_log_loss_of_scikit_learns_docstring() -> None:
    claimed = np.array([[0.1, 0.9], [0.9, 0.1], [0.8, 0.2], [0.35, 0.65]])
    truth = np.array([1, 0, 0, 1])
    ours = measured(claimed, truth).log_loss
    assert ours == pytest.approx(0.216162, abs=1e-6)
    assert ours == pytest.approx(log_loss(truth, claimed), abs=1e-6)


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
    found = measured(claimed, truth)
    for place, share in ((1, found.top1), (3, found.top3)):
        assert share == pytest.approx(top_k_accuracy_score(truth, claimed, k=place))


def test_area_under_curve_agrees_with_scikit_learn() -> None:
    rng = np.random.default_rng(8)
    positive = rng.random(300) < 0.3
    scores = np.round(rng.normal(size=300) + positive, 1)  # rounded, so that there are ties
    assert area_under_curve(scores, positive) == pytest.approx(roc_auc_score(positive, scores))
