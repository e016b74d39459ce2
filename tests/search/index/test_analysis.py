"""Analysing notes in several processes gives what one process gives."""

from __future__ import annotations

from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace

import numpy as np
import pytest

from kb.notes.case import CaseNote
from kb.terms import load_vocabulary
from search.index import analysis
from search.index.analysis import Analysis
from search.index.documents import unpack_note
from tests.benchmarks.generate import generate_notes

SOURCES = [(path, text.encode()) for path, text in generate_notes(300)]
SOURCES.insert(260, ("cases/2024/20240101-bad1.md", b"no front matter"))


def analysed(made: Analysis) -> list[tuple[str, CaseNote, float]]:
    """Return all that is kept of the notes, unpacked: packed bytes may differ for the same note."""
    with made:
        notes, vectors = made.of(SOURCES)
    sums = np.zeros(len(notes)) if vectors is None else np.abs(vectors).sum(axis=1)
    return [
        (repr(replace(note, stored=b"")), unpack_note(note.stored), float(total))
        for note, total in zip(notes, sums, strict=True)
    ]


def test_processes_return_what_one_returns_in_the_same_order() -> None:
    alone = analysed(Analysis(load_vocabulary(), notes=len(SOURCES)))
    assert all(path in said for (path, _), (said, _, _) in zip(SOURCES, alone, strict=True))
    assert analysed(Analysis(load_vocabulary(), notes=len(SOURCES), workers=2)) == alone


def test_one_process_goes_on_when_the_others_are_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    class Broken:
        def __init__(self, *args: object, **kwargs: object) -> None:
            pass

        def map(self, work: object, parts: list[object]) -> object:
            yield analysis.analyse(SOURCES[:250], load_vocabulary())
            raise BrokenProcessPool

        def shutdown(self, **kwargs: object) -> None:
            pass

    alone = analysed(Analysis(load_vocabulary(), notes=len(SOURCES)))
    monkeypatch.setattr(analysis, "ProcessPoolExecutor", Broken)
    assert analysed(Analysis(load_vocabulary(), notes=len(SOURCES), workers=2)) == alone
