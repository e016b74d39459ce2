from dataclasses import replace

import numpy as np
import pytest

from search.causes.opinions import OPINIONS
from search.causes.pool import Tuning
from search.causes.training import History, fit_model, plan_fit
from search.evaluation.evaluate import Evaluation, evaluate_folds
from search.evaluation.labelled import Row, history_of
from search.reading.vectors import load_meaning
from tests.search.labelled import small_list


def _history(listed: list[Row]) -> History:
    return history_of(listed, meaning=load_meaning())


@pytest.fixture(scope="module")
def history() -> History:
    return _history(small_list())


@pytest.fixture(scope="module")
def measured() -> dict[str, Evaluation]:
    return {
        "meaning": evaluate_folds(history_of(small_list(), meaning=load_meaning())),
        "words": evaluate_folds(history_of(small_list(), meaning=None)),
    }


def test_most_complaints_of_the_small_list_are_answered_right(measured: dict[str, Evaluation]) -> None:
    # A sixth would be right by chance; a part of the features or of the pool that broke would show here.
    assert measured["meaning"].top1 >= 0.7
    assert measured["meaning"].log_loss <= 0.95
    assert measured["words"].top1 >= 0.6
    assert measured["words"].log_loss <= 1.25


def test_meaning_helps_on_the_small_list(measured: dict[str, Evaluation]) -> None:
    assert measured["meaning"].log_loss < measured["words"].log_loss


def test_fitting_is_repeatable() -> None:
    one, other = (fit_model(_history(small_list())) for _ in range(2))
    assert one.tuning == other.tuning
    assert set(one.linear) == set(other.linear) == {"logistic", "means"}
    assert all(np.array_equal(one.linear[name].weights, other.linear[name].weights) for name in one.linear)


def test_a_small_notebook_keeps_the_defaults_and_trusts_words_less(history: History) -> None:
    usual = Tuning.usual()

    def weights_of(cases: int) -> dict[str, float]:
        tuning = fit_model(replace(history, usable=np.arange(history.corpus.cases.size) < cases)).tuning
        assert replace(tuning, weights=usual.weights) == usual
        return dict(tuning.weights)

    many, few = weights_of(49), weights_of(5)
    for each in OPINIONS:
        assert many[each.name] == pytest.approx(each.weight * (0.986 if each.from_words else 1))
        assert few[each.name] == pytest.approx(each.weight * (0.37 if each.from_words else 1))
    enough = np.arange(history.corpus.cases.size) < 50
    assert fit_model(replace(history, usable=enough)).tuning.cases == 50


def test_fewer_columns_keep_inner_products(history: History) -> None:
    which, thin = history.rows_to_learn(), history.thinned()
    few, rows = thin.features(which), history.features(which)
    assert few.shape[1] <= len(which) + len(history.names) < rows.shape[1]
    assert np.allclose(few @ thin.names.T, rows @ history.names.T, atol=1e-4)


def _loss(history: History, tuning: Tuning) -> float:
    """Return the log loss of held-out cases, five folds, everything but the tuning learned anew."""
    cases = history.corpus.cases
    fold = np.arange(cases.size) % 5
    lost = []
    for at in range(5):
        mask = fold != at
        model = fit_model(replace(history, usable=mask), tuning=tuning)
        for row in np.flatnonzero(fold == at).tolist():
            odds = model.odds(history.corpus, history.queries[row], mask)
            lost.append(-np.log(odds.probability[cases.cause[row]]))
    return float(np.mean(lost))


def test_what_is_fitted_is_not_worse_than_the_defaults(history: History) -> None:
    # Folds here are others than those of the fit.
    assert _loss(history, fit_model(history).tuning) <= _loss(history, Tuning.usual()) + 0.02


def test_progress_reaches_its_end(history: History) -> None:
    steps: list[tuple[int, int]] = []
    fit_model(history, progress=lambda done, total: steps.append((done, total)))
    assert [done for done, _ in steps] == list(range(1, len(steps) + 1))
    assert steps[-1][0] == steps[-1][1]


def test_all_causes_alike_in_words_leave_the_shares() -> None:
    history = _history([{**row, "complaint": "it is broken"} for row in small_list()])
    model = fit_model(history)
    chances = model.odds(history.corpus, history.queries[0], history.usable).probability
    assert chances.max() < 2 * chances.min()


@pytest.mark.parametrize(
    ("cases", "causes", "folds", "costly"),
    [
        pytest.param(150, 80, 5, True, id="small"),
        pytest.param(1_300, 17, 5, True, id="labelled-list"),
        pytest.param(3_000, 100, 1, True, id="middling"),
        pytest.param(100_000, 3_000, 1, False, id="very-large"),
    ],
)
def test_plan_tries_less_the_more_there_is(cases: int, causes: int, folds: int, costly: bool) -> None:
    assert plan_fit(cases, 1280, causes) == (folds, costly)


def test_a_notebook_too_large_for_the_logistic_model_answers_from_class_means(
    history: History, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("search.causes.training._COSTLY_WORK", 0.0)
    model = fit_model(history)
    assert set(model.linear) == {"means"}
    assert "logistic" not in model.tuning.weights
    odds = model.odds(history.corpus, history.queries[0], history.usable)
    assert odds.probability.argmax() == history.corpus.cases.cause[0]


@pytest.mark.parametrize("left_out", [each.name for each in OPINIONS])
def test_any_opinion_can_be_left_out(history: History, left_out: str) -> None:
    model = fit_model(history, opinions=[each for each in OPINIONS if each.name != left_out])
    assert left_out not in model.tuning.weights
    assert left_out not in model.linear
    odds = model.odds(history.corpus, history.queries[0], history.usable)
    assert odds.probability.argmax() == history.corpus.cases.cause[0]
