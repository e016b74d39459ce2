import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from kb.errors import BenchloreError
from kb.notes.case import CaseNote
from search.causes.notebook_causes import NotebookCauses
from search.causes.odds import CauseOdds
from search.causes.opinion import Opinion
from search.causes.opinions import OPINIONS
from search.evaluation.evaluate import Answered, Evaluation, evaluate_folds, evaluate_notebook, measure
from search.evaluation.labelled import history_of, read_labelled_csv
from search.reading.concepts import default_finder
from search.reading.vectors import load_meaning
from tests.search.causes.test_notebook_causes import invented_notes, state_of
from tests.search.labelled import COMPLAINTS, small_list


def _answered(chances: list[float], new: float, truth: int, fold: int = 0) -> Answered:
    none = np.zeros(1)
    odds = CauseOdds(
        probability=np.array(chances),
        not_in_notebook=new,
        case_weight=none,
        word_similarity=none,
        similarity=none,
    )
    return Answered(odds=odds, truth=truth, fold=fold)


def test_measures_by_hand() -> None:
    measured = measure(
        [_answered([0.6, 0.2], 0.2, 0), _answered([0.3, 0.5], 0.2, 0), _answered([0.5, 0.25], 0.25, -1)],
        meaning=True,
    )
    assert measured.n == 3
    assert measured.top1 == pytest.approx(1 / 3)
    assert measured.top3 == pytest.approx(2 / 3)
    assert measured.mrr == pytest.approx((1 + 0.5 + 0) / 3)
    # A cause that is new is charged for the probability of "not in this notebook".
    assert measured.log_loss == pytest.approx(-np.log([0.6, 0.3, 0.25]).mean())
    squares = [0.16 + 0.04 + 0.04, 0.49 + 0.25 + 0.04, 0.25 + 0.0625 + 0.5625]
    assert measured.brier == pytest.approx(np.mean(squares))
    # The firsts claim .6, .5 and .5; the one of .6 is right.
    assert measured.ece == pytest.approx((0.4 + 2 * 0.5) / 3)
    assert measured.new_cause_share == pytest.approx(1 / 3)


def test_folds_count_alike_however_large() -> None:
    answers = [_answered([0.9], 0.1, 0, fold=0), *[_answered([0.9], 0.1, -1, fold=1)] * 3]
    assert measure(answers, meaning=True).top1 == pytest.approx(0.5)


def test_nothing_to_measure_is_said() -> None:
    measured = measure([], meaning=False)
    assert measured.n == 0
    assert "no case" in measured.as_text()


def test_json_has_the_promised_keys_and_plain_values() -> None:
    measured = measure([_answered([0.6, 0.2], 0.2, 0)], meaning=True)
    found = json.loads(json.dumps(measured.as_json()))
    promised = ("n", "top1", "top3", "mrr", "log_loss", "brier", "ece", "new_cause_share", "reliability")
    assert set(promised) <= set(found)
    assert found["reliability"] == [
        {"low": 0.6, "high": 0.7, "count": 1, "mean_predicted": 0.6, "observed": 1.0}
    ]


def test_text_says_what_was_claimed_and_what_came_true() -> None:
    right = [_answered([0.8, 0.1], 0.1, 0)] * 4
    text = measure([*right, _answered([0.8, 0.1], 0.1, 1)], meaning=True).as_text()
    assert "came first in 4 of 5" in text
    assert text.splitlines()[-1].split() == ["80-90", "%", "80", "%", "80", "%", "5"]


def _csv(path: Path, *, times: int = 1) -> Path:
    rows = [f'"{row["complaint"]}",{row["cause"]},set' for row in small_list(times)]
    path.write_text(
        "\n".join(["said,found,kind", *rows, ",no complaint,set", "no cause,,set"]), encoding="utf-8"
    )
    return path


def test_a_labelled_file_is_measured_by_folds(tmp_path: Path) -> None:
    path = _csv(tmp_path / "list.csv")
    listed = read_labelled_csv(path, {"complaint": "said", "cause": "found", "device": "kind"})
    measured = evaluate_folds(history_of(listed, meaning=load_meaning()), folds=3)
    assert measured.n == sum(map(len, COMPLAINTS.values()))
    assert measured.folds == 3
    assert measured.top1 > 0.5
    assert measured.new_cause_share == 0.0
    assert measured.meaning


@pytest.mark.parametrize(
    ("said", "devices"),
    [pytest.param({}, {"Set"}, id="by-its-name"), pytest.param({"device": ""}, {None}, id="none-wanted")],
)
def test_columns_are_known_by_their_names(
    tmp_path: Path, said: dict[str, str], devices: set[str | None]
) -> None:
    path = tmp_path / "list.csv"
    path.write_text(
        "Problem,Appliance,Cause found\nno sound,Set,fuse open\nno light,Set,fuse open\n", "utf-8"
    )
    assert {row.get("device") for row in read_labelled_csv(path, said)} == devices


def test_a_column_that_is_missing_is_named(tmp_path: Path) -> None:
    path = _csv(tmp_path / "list.csv")
    with pytest.raises(
        BenchloreError, match=r"list\.csv:1: no column 'cause'; the columns are said, found, kind"
    ):
        read_labelled_csv(path, {"complaint": "said", "cause": "cause"})


def test_a_file_that_is_no_text_is_named(tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_bytes(b"said,found\n\xff\xfe,x\n")
    with pytest.raises(BenchloreError, match=r"list\.csv:2: row: bytes that are not UTF-8; save the file as"):
        read_labelled_csv(tmp_path / "list.csv", {"complaint": "said", "cause": "found"})


def test_a_cause_met_only_in_one_fold_is_new_there(tmp_path: Path) -> None:
    path = _csv(tmp_path / "list.csv")
    path.write_text(path.read_text(encoding="utf-8") + "\nodd smell of fish,capacitor leaking,set", "utf-8")
    listed = read_labelled_csv(path, {"complaint": "said", "cause": "found"})
    measured = evaluate_folds(history_of(listed, meaning=None), folds=2)
    assert not measured.meaning
    assert measured.new_cause_share == pytest.approx(1 / measured.n)


@pytest.mark.parametrize("rows", [1, 2])
def test_list_with_too_little_to_learn_from_is_measured_all_the_same(tmp_path: Path, rows: int) -> None:
    path = tmp_path / "list.csv"
    path.write_text("said,found\n" + "dead,fuse open\n" * rows, encoding="utf-8")
    history = history_of(read_labelled_csv(path, {"complaint": "said", "cause": "found"}), meaning=None)
    assert evaluate_folds(history, folds=2).n == rows


def through_time(notes: list[CaseNote], last: int, opinions: Sequence[Opinion] = OPINIONS) -> Evaluation:
    return evaluate_notebook(NotebookCauses(state_of(notes), default_finder()), last=last, opinions=opinions)


def test_through_time_answers_come_from_earlier_cases_only() -> None:
    notes = invented_notes()
    measured = through_time(notes, last=5)
    # What comes after a case, whatever it says, must not change its answer.
    later = [note.model_copy(update={"root_cause": "sabotage"}) for note in notes[57:]]
    changed = through_time([*notes[:57], *later], last=5)
    assert changed.new_cause_share == pytest.approx(1 / 5)
    two = through_time(notes[:57], last=2)
    assert (measured.n, two.n) == (5, 2)
    right_before = round(two.top1 * 2)
    assert right_before <= round(measured.top1 * 5) <= right_before + 3


def test_through_time_the_first_case_of_a_cause_is_new() -> None:
    quick = [each for each in OPINIONS if each.fit is None]
    measured = through_time(invented_notes(), 58, quick)
    assert measured.n == 58
    assert measured.new_cause_share == pytest.approx(4 / 58)  # two of six causes are in the first two cases
    assert measured.top1 > 0.4
