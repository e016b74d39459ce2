import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.causes.linear import fit_logistic, fit_means

CASES = 9
likenesses = st.lists(st.floats(0, 1), min_size=CASES, max_size=CASES)
labels = st.lists(st.integers(0, 3), min_size=CASES, max_size=CASES)


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
