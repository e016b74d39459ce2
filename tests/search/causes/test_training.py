from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from search.causes.cross_validation import plan_fit
from search.causes.odds import cause_odds
from search.causes.opinions import Tuning
from search.causes.training import History, fit_model
from search.evaluation.evaluate import Evaluation, evaluate_list
from search.evaluation.labelled import LabelledList, ListAsker
from search.reading.concepts import default_finder
from search.reading.vectors import load_meaning
from tests.search.labelled import small_list


def _history(listed: LabelledList, *, meaning: bool = True) -> History:
    asker = ListAsker(listed, default_finder(), load_meaning() if meaning else None)
    usable = np.ones(listed.cases.size, np.bool_)
    return History(cases=listed.cases, rows=asker.rows, usable=usable, asked=asker.asked, names=asker.names)


@pytest.fixture(scope="module")
def measured() -> dict[str, Evaluation]:
    return {
        "meaning": evaluate_list(small_list(), meaning=load_meaning()),
        "words": evaluate_list(small_list(), meaning=None),
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
    assert np.array_equal(one.means.weights, other.means.weights)
    assert one.logistic is not None
    assert other.logistic is not None
    assert np.array_equal(one.logistic.weights, other.logistic.weights)


def test_a_small_notebook_keeps_the_defaults() -> None:
    history = _history(small_list())
    few = np.arange(history.cases.size) < 49
    flat = fit_model(replace(history, usable=few)).tuning
    assert replace(flat, say=Tuning().say) == Tuning()
    assert flat.say == pytest.approx([0.99 * one if at < 4 else one for at, one in enumerate(Tuning().say)])
    flattest = fit_model(replace(history, usable=np.arange(history.cases.size) < 5)).tuning
    assert flattest.say[0] == pytest.approx(0.55 * Tuning().say[0])
    more = np.arange(history.cases.size) < 50
    assert fit_model(replace(history, usable=more)).tuning.fitted


def _loss(history: History, tuning: Tuning) -> float:
    """Return the log loss of held-out cases, five folds, everything but the tuning learned anew."""
    cases = history.cases
    fold = np.arange(cases.size) % 5
    lost = []
    for at in range(5):
        mask = fold != at
        model = fit_model(replace(history, usable=mask), tuning=tuning)
        for row in np.flatnonzero(fold == at).tolist():
            asked = replace(history.asked(row, mask), scores=model.scores(history.rows[row]))
            odds = cause_odds(cases, asked, tuning, usable=mask)
            lost.append(-np.log(odds.probability[cases.cause[row]]))
    return float(np.mean(lost))


def test_what_is_fitted_is_not_worse_than_the_defaults() -> None:
    history = _history(small_list())
    assert (
        _loss(history, fit_model(history).tuning) <= _loss(history, Tuning()) + 0.02
    )  # folds here are others


def test_progress_reaches_its_end() -> None:
    steps: list[tuple[int, int]] = []
    fit_model(_history(small_list()), progress=lambda done, total: steps.append((done, total)))
    assert [done for done, _ in steps] == list(range(1, len(steps) + 1))
    assert steps[-1][0] == steps[-1][1]


def test_all_causes_alike_in_words_leave_the_shares() -> None:
    listed = small_list()
    same = replace(listed, texts=["it is broken"] * len(listed.texts))
    history = _history(same)
    model = fit_model(history)
    asked = replace(history.asked(0, history.usable), scores=model.scores(history.rows[0]))
    chances = cause_odds(history.cases, asked, model.tuning, usable=history.usable).probability
    assert chances.max() < 2 * chances.min()


@pytest.mark.parametrize(
    ("cases", "causes", "folds", "strengths"),
    [
        pytest.param(150, 80, 5, 1, id="small"),
        pytest.param(1_300, 17, 5, 3, id="labelled-list"),
        pytest.param(3_000, 100, 1, 1, id="middling"),
        pytest.param(100_000, 3_000, 1, 0, id="very-large"),
    ],
)
def test_plan_tries_less_the_more_there_is(cases: int, causes: int, folds: int, strengths: int) -> None:
    plan = plan_fit(cases, 1280, causes)
    assert (plan.folds, len(plan.strengths)) == (folds, strengths)


def test_a_notebook_too_large_for_the_logistic_model_answers_from_class_means(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("search.causes.cross_validation._LOGISTIC_WORK", 0.0)
    history = _history(small_list())
    model = fit_model(history)
    assert model.logistic is None
    assert model.tuning.say[0] == 0.0
    asked = replace(history.asked(0, history.usable), scores=model.scores(history.rows[0]))
    odds = cause_odds(history.cases, asked, model.tuning, usable=history.usable)
    assert odds.probability.argmax() == history.cases.cause[0]
