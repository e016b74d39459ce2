from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.causes.fitting import fit_logistic, fit_means, fit_pool, log_softmax, minimise

CASES = 9
likenesses = st.lists(st.floats(0, 1), min_size=CASES, max_size=CASES)
labels = st.lists(st.integers(0, 3), min_size=CASES, max_size=CASES)


def test_minimise_finds_the_bottom_of_a_bowl() -> None:
    bowl = np.diag([1.0, 10.0, 100.0])
    bottom = np.array([3.0, -2.0, 0.5])

    def value(point: np.ndarray) -> tuple[float, np.ndarray]:  # type: ignore[type-arg]
        away = point - bottom
        return float(0.5 * away @ bowl @ away), bowl @ away

    assert minimise(value, np.zeros(3), steps=100) == pytest.approx(bottom, abs=1e-3)


def _own_less_others(scores: np.ndarray, cause: int) -> np.ndarray:  # type: ignore[type-arg]
    return scores[cause] - np.delete(scores, cause)


@pytest.mark.parametrize("steps", [0, 2, 60])
@given(labels=labels, likeness=likenesses, at=st.integers(0, CASES - 1), more=st.floats(0, 1))
def test_a_case_more_like_the_complaint_raises_its_own_cause(
    labels: list[int], likeness: list[float], at: int, more: float, steps: int
) -> None:
    # Rows at right angles: a complaint's likeness to each case is then free of that to the others. It must
    # hold however soon the fit was stopped.
    classes = np.array(labels)
    model = fit_logistic(np.eye(CASES), classes, np.ones(CASES), count=4, strength=8.0, steps=steps)
    asked = np.array(likeness)
    nearer = asked.copy()
    nearer[at] += more
    gained = _own_less_others(model.scores(nearer), labels[at]) - _own_less_others(
        model.scores(asked), labels[at]
    )
    assert (gained >= -1e-9).all()


def test_class_means_add_each_case_to_its_own_cause_alone() -> None:
    rng = np.random.default_rng(2)
    rows, classes = rng.normal(size=(40, 5)), rng.integers(0, 3, 40)
    asked = rng.normal(size=5)
    model = fit_means(rows, classes, np.ones(40), count=3, kappa=2.0)
    middle = rows.mean(axis=0)
    # The same by hand: likeness against the spread within causes, summed over the cases of each.
    sums = np.stack([(rows[classes == each] - middle).sum(axis=0) for each in range(3)])
    means = sums / (np.bincount(classes)[:, None] + 2.0)
    away = rows - middle - means[classes]
    spread = away.T @ away / 40
    ridge = 10.0 * np.trace(spread) / 5
    metric = np.linalg.inv(spread + ridge * np.eye(5)) * ridge
    likeness = (rows - middle) @ metric @ (asked - middle)
    expected = [
        likeness[classes == each].sum() / ((classes == each).sum() + 2.0)
        - 0.5 * means[each] @ metric @ means[each]
        for each in range(3)
    ]
    assert model.scores(asked) == pytest.approx(expected)


def test_a_class_without_rows_is_nobodys_first_choice() -> None:
    rows = np.eye(6)
    model = fit_logistic(rows, np.array([0, 0, 0, 1, 1, 1]), np.ones(6), count=3, strength=4.0)
    assert (model.scores(rows).argmax(axis=1) == [0, 0, 0, 1, 1, 1]).all()


def test_evidence_of_half_counts_half() -> None:
    rows, classes = np.array([[1.0, 0.0], [1.0, 0.0]]), np.array([0, 1])
    model = fit_logistic(rows, classes, np.array([1.0, 0.5]), count=2, strength=4.0)
    scores = model.scores(np.array([1.0, 0.0]))
    assert scores[0] > scores[1]


def _opinions(seed: int) -> tuple[list[np.ndarray], np.ndarray]:  # type: ignore[type-arg]
    rng = np.random.default_rng(seed)
    truth = rng.integers(0, 3, 200)
    telling = log_softmax(np.eye(3)[truth] * 1.5 + rng.normal(size=(200, 3)))
    noise = log_softmax(rng.normal(size=(200, 3)))
    return [telling, noise], truth


def test_pool_listens_to_who_is_right() -> None:
    logs, truth = _opinions(1)
    say = fit_pool(
        logs, truth, np.array([0.5, 0.5]), known=np.ones((200, 3), np.bool_), most=np.array([3.0, 3.0])
    )
    assert say[0] > 0.8 > 0.4 > say[1] >= 0.0


def test_pool_is_the_best_of_a_grid() -> None:
    logs, truth = _opinions(4)
    known = np.ones((200, 3), np.bool_)
    say = fit_pool(logs, truth, np.array([1.0, 1.0]), known=known, most=np.array([3.0, 3.0]), hold=0.0)

    def loss(first: float, second: float) -> float:
        return -float(log_softmax(first * logs[0] + second * logs[1])[np.arange(200), truth].sum())

    grid = [loss(first, second) for first in np.linspace(0, 3, 31) for second in np.linspace(0, 3, 31)]
    assert loss(*say.tolist()) <= min(grid) + 1e-6


def test_pool_leaves_out_classes_that_are_not_in_the_running() -> None:
    logs, truth = _opinions(1)
    known = np.ones((200, 4), np.bool_)
    known[:, 3] = False
    wider = [np.column_stack([one, np.full(200, 50.0)]) for one in logs]
    start, most = np.array([0.5, 0.5]), np.array([3.0, 3.0])
    assert fit_pool(wider, truth, start, known=known, most=most) == pytest.approx(
        fit_pool(logs, truth, start, known=known[:, :3], most=most)
    )
