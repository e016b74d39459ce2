"""Read and analyse many notes, on all cores where that is worth starting processes for."""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from types import TracebackType
from typing import Self

import numpy as np
import numpy.typing as npt

from kb.terms import Vocabulary
from search.index.documents import read_document, vectors_of
from search.index.rows import NoteRow
from search.reading.concepts import finder_for

Source = tuple[str, bytes]  # a note's path and its bytes
Vectors = npt.NDArray[np.float16] | None

FEWEST_TO_SHARE = 4_000  # notes; below that other processes cost more than they save; chosen by us
_CHUNK = 250  # notes handed to a process at a time; chosen by us
_vocabulary: Vocabulary | None = None  # of a process that only analyses


def analyse(sources: Sequence[Source], vocabulary: Vocabulary) -> tuple[list[NoteRow], Vectors]:
    """Return what the index keeps of notes, in their order, and their meaning vectors."""
    finder = finder_for(vocabulary)
    notes = [read_document(path, data, finder) for path, data in sources]
    return notes, vectors_of(notes)


def _start(vocabulary: Vocabulary) -> None:
    global _vocabulary
    _vocabulary = vocabulary
    gc.disable()  # a note makes thousands of short-lived objects and no circles


def _analyse_chunk(sources: Sequence[Source]) -> tuple[list[NoteRow], Vectors]:
    assert _vocabulary is not None
    return analyse(sources, _vocabulary)


class Analysis:
    """Analyse notes, as a context that ends the processes it started."""

    def __init__(self, vocabulary: Vocabulary, *, notes: int, workers: int | None = None) -> None:
        """Prepare.

        Args:
            vocabulary: the words and phrases to find.
            notes: number of notes there are to be analysed.
            workers: number of processes, 1 for this one alone; by default what the notes and cores suggest.
        """
        self._vocabulary = vocabulary
        wanted = (os.cpu_count() or 1) if notes >= FEWEST_TO_SHARE else 1
        self._workers = wanted if workers is None else workers
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Self:
        """Start; processes start with the first notes."""
        if self._workers > 1 and not multiprocessing.current_process().daemon:
            # Not forked: the server has threads, whose locks a copy would find held for ever.
            spawn = multiprocessing.get_context("spawn")
            with contextlib.suppress(OSError):
                self._pool = ProcessPoolExecutor(
                    self._workers, mp_context=spawn, initializer=_start, initargs=(self._vocabulary,)
                )
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the processes."""
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def of(
        self, sources: Sequence[Source], tell: Callable[[int], None] = lambda done: None
    ) -> tuple[list[NoteRow], Vectors]:
        """Return what the index keeps of notes, in their order, and their meaning vectors.

        tell: called with the number of notes done.
        """
        notes: list[NoteRow] = []
        vectors: list[Vectors] = []
        for some, some_vectors in self._chunks(sources):
            notes += some
            vectors.append(some_vectors)
            tell(len(notes))
        there = [each for each in vectors if each is not None]
        return notes, np.concatenate(there) if there and len(there) == len(vectors) else None

    def _chunks(self, sources: Sequence[Source]) -> Iterator[tuple[list[NoteRow], Vectors]]:
        parts = [sources[start : start + _CHUNK] for start in range(0, len(sources), _CHUNK)]
        done = 0
        if self._pool is not None:
            try:
                for result in self._pool.map(_analyse_chunk, parts):
                    yield result
                    done += 1
            except (BrokenProcessPool, OSError):
                self._pool.shutdown(cancel_futures=True)
                self._pool = None  # this process does the rest by itself
        for part in parts[done:]:
            yield analyse(part, self._vocabulary)
