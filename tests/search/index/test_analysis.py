"""Analysing notes in several processes gives what one process gives."""

from __future__ import annotations

from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace

import numpy as np
import pytest

from kb.notebook import FileStamp, Notebook
from kb.notes.case import CaseNote
from kb.terms import load_vocabulary
from search.index import analysis
from search.index.analysis import Analysis
from search.index.documents import unpack_note
from tests.benchmarks.generate import make_notebook

WORDS = load_vocabulary()


@pytest.fixture(scope="module")
def notebook(tmp_path_factory: pytest.TempPathFactory) -> Notebook:
    notebook = make_notebook(tmp_path_factory.mktemp("many"), 300)
    (notebook.root / "cases" / "2000" / "20000121-bad1.md").write_text("no front matter")
    return notebook


def paths(notebook: Notebook) -> list[tuple[str, FileStamp]]:
    return list(notebook.scan().items())


def analysed(notebook: Notebook, workers: int = 1) -> list[tuple[str, CaseNote, float]]:
    """Return all that is kept of the notes, unpacked: packed bytes may differ for the same note."""
    found, told = [], []
    wanted = paths(notebook)
    with Analysis(notebook, WORDS, notes=len(wanted), workers=workers) as made:
        for notes, vectors in made.of(wanted, batch=200, tell=lambda done, total: told.append((done, total))):
            sums = np.zeros(len(notes)) if vectors is None else np.abs(vectors).sum(axis=1)
            found += [
                (repr(replace(note, stored=b"")), unpack_note(note.stored), float(total))
                for note, total in zip(notes, sums, strict=True)
            ]
    assert told == [(250, 301), (301, 301)]
    return found


def test_processes_return_what_one_returns_in_the_same_order(notebook: Notebook) -> None:
    alone = analysed(notebook)
    assert all(path in said for (path, _), (said, _, _) in zip(paths(notebook), alone, strict=True))
    assert analysed(notebook, workers=2) == alone


def test_one_process_goes_on_when_the_others_are_gone(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Broken:
        def __init__(self, *args: object, **kwargs: object) -> None:
            pass

        def map(self, work: object, parts: list[object]) -> object:
            yield analysis.analyse(paths(notebook)[:250], notebook, WORDS)
            raise BrokenProcessPool

        def shutdown(self, **kwargs: object) -> None:
            pass

    alone = analysed(notebook)
    monkeypatch.setattr(analysis, "ProcessPoolExecutor", Broken)
    assert analysed(notebook, workers=2) == alone
