"""The choice of questions against published values and scikit-learn's mutual information."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import mutual_info_score

from search.answering.questions import information_gain


def gain(probability: list[float], yes: list[float]) -> float:
    return float(information_gain(np.array(probability), np.array([yes]))[0])


@pytest.mark.parametrize(
    ("probability", "yes", "bits"),
    [
        # Shannon 1948: two equally likely causes and a symptom that one always shows and the other never.
        pytest.param([0.5, 0.5], [1.0, 0.0], 1.0, id="settles-two"),
        pytest.param([0.25] * 4, [1.0, 1.0, 0.0, 0.0], 1.0, id="halves-four"),
        pytest.param([0.5, 0.5], [0.3, 0.3], 0.0, id="tells-nothing"),
        # A binary symmetric channel that errs in 11 % carries 1 - H(.11) = .5000842 bits (computed).
        pytest.param([0.5, 0.5], [0.89, 0.11], 0.5000842, id="errs-in-eleven-per-cent"),
        # H(1/4) = .8112781 bits.
        pytest.param([0.75, 0.25], [0.0, 1.0], 0.8112781, id="one-in-four"),
    ],
)
def test_gain_equals_published_values(probability: list[float], yes: list[float], bits: float) -> None:
    assert gain(probability, yes) == pytest.approx(bits, abs=1e-6)


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=2, max_size=6))
def test_gain_equals_mutual_information_of_the_counts(rows: list[tuple[int, int]]) -> None:
    """scikit-learn's mutual information of cause and answer, in nats, over ln 2."""
    rows = [row for row in rows if sum(row)]
    if not rows:
        return
    causes = [cause for cause, row in enumerate(rows) for _ in range(sum(row))]
    answers = [answer for yes, no in rows for answer in [1] * yes + [0] * no]
    total = len(causes)
    mine = gain([sum(row) / total for row in rows], [yes / (yes + no) for yes, no in rows])
    assert mine == pytest.approx(mutual_info_score(causes, answers) / np.log(2), abs=1e-9)
