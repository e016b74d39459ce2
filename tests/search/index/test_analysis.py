"""Analysing notes in several processes gives what one process gives."""

import os
from concurrent.futures.process import BrokenProcessPool

import numpy as np
import pytest

from kb.notebook import FileStamp, Notebook
from kb.terms import load_vocabulary
from search.index import analysis
from search.index.documents import unpack_note
from tests.benchmarks.generate import make_notebook

WORDS = load_vocabulary()


@pytest.fixture(scope="module")
def notebook(tmp_path_factory: pytest.TempPathFactory) -> Notebook:
    notebook = make_notebook(tmp_path_factory.mktemp("many"), 300)
    (notebook.root / "cases" / "2000" / "20000121-bad1.md").write_text("no front matter")
    for note in notebook.root.rglob("*.md"):
        os.utime(note, (1e9, 1e9))  # what was written a moment ago is looked at again, and not stamped
    return notebook


@pytest.fixture(autouse=True)
def small_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(analysis, "CHUNK", 250)


def paths(notebook: Notebook) -> list[tuple[str, FileStamp]]:
    return list(notebook.scan().items())


def share_among_two(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(analysis, "FEWEST_TO_SHARE", 300)
    monkeypatch.setattr("os.cpu_count", lambda: 2)


def analysed(notebook: Notebook) -> list[str]:
    """Return all that is kept of the notes, unpacked: packed bytes may differ for the same note."""
    found, told = [], []
    wanted = paths(notebook)

    def tell(done: int, total: int) -> None:
        told.append((done, total))

    for rows, lists in analysis.analyse_on_all_cores(wanted, notebook, WORDS, "words", tell=tell):
        notes = [unpack_note(rows.notes.row(place).tobytes()) for place in range(len(rows))]
        told_of = (rows.texts, rows.coded, rows.numbers, rows.cause_keys, rows.words, rows.word_names)
        sums = None if rows.vectors is None else np.abs(rows.vectors).sum(axis=1)
        found += [*rows.texts["path"], repr((notes, told_of, lists, sums))]
    assert told == [(250, 301), (301, 301)]
    return found


def test_processes_return_what_one_returns_in_the_same_order(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = analysed(notebook)
    assert [each for each in alone if each.endswith(".md")] == [path for path, _ in paths(notebook)]
    share_among_two(monkeypatch)
    assert analysed(notebook) == alone


def test_one_process_goes_on_when_the_others_are_gone(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Broken:
        def __init__(self, *args: object, **kwargs: object) -> None:
            pass

        def map(self, work: object, parts: list[object]) -> object:
            yield analysis.analyse(paths(notebook)[:250], notebook, WORDS, "words")
            raise BrokenProcessPool

        def shutdown(self, **kwargs: object) -> None:
            pass

    alone = analysed(notebook)
    monkeypatch.setattr(analysis, "ProcessPoolExecutor", Broken)
    share_among_two(monkeypatch)
    assert analysed(notebook) == alone
