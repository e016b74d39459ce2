"""Damage everything the program keeps for itself: the answers stay what a clean copy gives."""

import random
import shutil
import zlib
from pathlib import Path
from typing import Any

import pytest

from kb.notebook import Notebook
from search.bench import Bench
from tests.search.index.test_case_index import damage

from .notebooks import small_notebook

ASKED = ("set is dead", "six blinks, no picture", "clicks and starts again", "")


def answers(bench: Bench) -> list[Any]:
    """Return everything that answers say, but for the time they took."""
    said = []
    for text in ASKED:
        answer = bench.answer(text, limit=40).as_json()
        del answer["took_ms"]
        said.append(answer)
    return said


def the_same(said: Any, right: Any) -> bool:
    """Compare answers: texts, counts and order exactly, figures but for the order of adding up."""
    if isinstance(right, float) and isinstance(said, float | int):
        return said == pytest.approx(right, rel=1e-4, abs=1e-5)
    if isinstance(right, dict):
        return right.keys() == said.keys() and all(the_same(said[key], right[key]) for key in right)
    if isinstance(right, list):
        return len(said) == len(right) and all(map(the_same, said, right))
    return bool(said == right)


def kept_files(root: Path) -> list[Path]:
    return sorted(path for path in (root / ".benchlore").rglob("*") if path.is_file() and path.stat().st_size)


def notes_in(root: Path) -> dict[str, bytes]:
    return {str(path.relative_to(root)): path.read_bytes() for path in sorted(root.glob("cases/**/*.md"))}


def test_damage_changes_no_answer_of_the_bench(tmp_path: Path) -> None:
    """Spoil what is kept, half the times under a bench at work; the index has its own test of damage."""
    notebook = small_notebook(tmp_path / "shop", 24)
    clean = Path(shutil.copytree(notebook.root, tmp_path / "clean"))
    right, notes = answers(Bench(Notebook(clean))), notes_in(notebook.root)
    dice = random.Random(20261125)
    bench = Bench(notebook, look_again_s=0)
    answers(bench)
    spoiled = set()
    for number in range(24):
        files = kept_files(notebook.root)
        learned = [path for path in files if path.name == "causes.model"]
        for path in learned if number % 3 == 0 else dice.sample(files, dice.choice([1, 1, 2, len(files)])):
            spoiled.add(path.name)
            damage(path, dice)
        if number % 2:
            bench = Bench(Notebook(notebook.root), look_again_s=0)
        else:
            bench.refresh()
        assert the_same(answers(bench), right), (number, sorted(spoiled))
        assert bench.warning == ""
    assert "causes.model" in spoiled
    assert len(spoiled) > 5
    assert notes_in(notebook.root) == notes
    assert the_same(answers(Bench(Notebook(notebook.root))), right)


@pytest.mark.parametrize(("error", "tries"), [(IndexError, 2), (zlib.error, 2), (AttributeError, 1)])
def test_only_what_damage_can_cause_is_asked_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: type[Exception], tries: int
) -> None:
    Bench(small_notebook(tmp_path))
    bench, asked = Bench(Notebook(tmp_path)), []  # taken up from disk

    def fail(*_: object, **__: object) -> None:
        asked.append(1)
        raise error

    monkeypatch.setattr("search.bench.past_cases", fail)
    with pytest.raises(error):
        bench.answer("set is dead")
    assert len(asked) == tries
