import json

import numpy as np
import pytest

from search.causes.notebook_causes import NotebookCauses
from search.evaluation.evaluate import measure_open_set, open_set_figures
from search.evaluation.labelled import history_of
from search.evaluation.metrics import at_share
from search.reading.concepts import default_finder
from search.reading.vectors import load_meaning
from tests.search.causes.test_notebook_causes import invented_notes, state_of
from tests.search.labelled import small_list


def test_figures_by_hand() -> None:
    figures = open_set_figures(np.array([0.9, 0.4, 0.4, 0.1]), np.array([True, True, False, False]))
    assert (figures.new, figures.known) == (2, 2)
    assert figures.auc == pytest.approx((2 + 1.5) / 4)  # of four pairs three are in order, one is a tie
    assert figures.mean_new == pytest.approx(0.65)
    assert figures.mean_known == pytest.approx(0.25)
    json.dumps(figures.as_json())
    assert ".875" in figures.as_text()


def test_at_share_moves_the_mean_and_keeps_the_order() -> None:
    claimed = np.array([0.001, 0.02, 0.3])
    moved = at_share(claimed, 0.5)
    assert moved.mean() == pytest.approx(0.5)
    assert (np.diff(moved) > 0).all()


def test_hidden_causes_of_the_small_list_are_known_as_new() -> None:
    listed = small_list(2)
    figures = measure_open_set(history_of(listed, meaning=load_meaning()))
    assert figures.new == len(listed)  # each cause is hidden once
    assert figures.auc > 0.75


def test_a_notebook_is_measured_on_its_own_cases() -> None:
    steps: list[int] = []
    history = NotebookCauses(state_of(invented_notes()), default_finder()).history()
    figures = measure_open_set(history, progress=lambda done, total: steps.append(done))
    assert steps == [1, 2, 3, 4, 5]
    assert figures.new >= 60
    assert figures.auc > 0.6
