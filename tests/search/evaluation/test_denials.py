"""Precision, recall and F1 of denied words, against a hand count and scikit-learn."""

from pathlib import Path

import pytest
from click.testing import CliRunner
from sklearn.metrics import precision_recall_fscore_support

from kb.errors import BenchloreError
from search.evaluation.denials import DenialFigures, measure_denials
from web.cli.main import main

ROWS = """text,denied
It has no hum or buzz,10-21
No smoke but a smell,3-8
The fan turns,
It is not a quiet fan,
It squeals and rattles,3-10
"""


@pytest.fixture
def marked(tmp_path: Path) -> Path:
    path = tmp_path / "marked.csv"
    path.write_text(ROWS, encoding="utf-8")
    return path


def test_denied_words_are_counted_one_by_one(marked: Path) -> None:
    # By hand: hum, or, buzz and smoke are found; "a quiet fan" is marked nowhere; "squeals" is not found.
    assert measure_denials(marked) == DenialFigures(sentences=5, right=4, wrong=3, missed=1)


def test_figures_agree_with_scikit_learn() -> None:
    figures = DenialFigures(sentences=5, right=4, wrong=3, missed=1)
    marks, found = [1] * 4 + [0] * 3 + [1], [1] * 4 + [1] * 3 + [0]
    expected = precision_recall_fscore_support(marks, found, average="binary")[:3]
    assert tuple(figures.shares.values()) == pytest.approx(expected)


def test_nothing_found_and_nothing_marked_scores_nothing() -> None:
    figures = DenialFigures(sentences=1, right=0, wrong=0, missed=0)
    assert figures.shares == {"precision": 0, "recall": 0, "f1": 0}


@pytest.mark.parametrize(
    ("content", "says"),
    [
        pytest.param("said,denied\na,\n", "marked.csv:1: no column 'text'", id="no-column"),
        pytest.param("text,denied\nno hum,3-9\n", "marked.csv:2: denied: '3-9'", id="beyond-the-text"),
        pytest.param("text,denied\nno hum,hum\n", "marked.csv:2: denied: 'hum'", id="no-range"),
    ],
)
def test_bad_file_is_named_with_its_line(marked: Path, content: str, says: str) -> None:
    marked.write_text(content, encoding="utf-8")
    with pytest.raises(BenchloreError) as error:
        measure_denials(marked)
    assert str(error.value).startswith(says)


def test_command_prints_the_figures(marked: Path) -> None:
    said = CliRunner().invoke(main, ["evaluate", "--denials", str(marked)])
    assert said.exit_code == 0
    assert "0.571" in said.output
    for_program = CliRunner().invoke(main, ["evaluate", "--denials", str(marked), "--json"])
    assert '"recall": 0.8' in for_program.output
