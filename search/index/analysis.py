"""Read and analyse many notes, on all cores where that is worth starting processes for."""

import contextlib
import gc
import multiprocessing
import os
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
import numpy.typing as npt

from kb.errors import NoteError
from kb.notebook import FileStamp, Notebook
from kb.terms import Vocabulary
from search.index.documents import read_document, vectors_of
from search.index.rows import NoteRow
from search.reading.concepts import finder_for

Stamped = tuple[str, FileStamp]  # a note's path and its stamp
Vectors = npt.NDArray[np.float16] | None
Analysed = tuple[list[NoteRow], Vectors]

# A note written this shortly before it was read may change again without a change of its stamp, because file
# systems' clocks tick, 100 times a second at the slowest; such a note is compared by content next time.
UNSURE_NS = 20_000_000
FEWEST_TO_SHARE = 4_000  # notes; below that other processes cost more than they save; chosen by us
_CHUNK = 250  # notes handed to a process at a time; chosen by us
_given: tuple[Notebook, Vocabulary] | None = None  # of a process that only analyses


def read_note(notebook: Notebook, path: str, stamp: FileStamp) -> tuple[bytes, FileStamp]:
    """Return a note's bytes, and its stamp if that is sure to change with them.

    stamp: taken before, so that a change in between is seen next time.
    """
    size, mtime_ns = stamp
    unsure = mtime_ns > time.time_ns() - UNSURE_NS
    try:
        data = notebook.read_bytes(path)
    except NoteError:
        data, unsure = b"", True  # gone, locked away or far too large; looked at again next time
    return data, (size, 0) if unsure else stamp


def stamped(note: NoteRow, stamp: FileStamp) -> NoteRow:
    """Return what is kept of a note together with its stamp."""
    return replace(note, numbers={**note.numbers, **dict(zip(("size", "mtime_ns"), stamp, strict=True))})


def analyse(notes: Sequence[Stamped], notebook: Notebook, vocabulary: Vocabulary) -> Analysed:
    """Return what the index keeps of notes, in their order, and their meaning vectors."""
    finder = finder_for(vocabulary)
    rows = []
    for path, stamp in notes:
        data, sure = read_note(notebook, path, stamp)
        rows.append(stamped(read_document(path, data, finder), sure))
    return rows, vectors_of(rows)


def _start(root: Path, vocabulary: Vocabulary) -> None:
    global _given
    _given = Notebook(root), vocabulary
    gc.disable()  # a note makes thousands of short-lived objects and no circles


def _analyse_chunk(notes: Sequence[Stamped]) -> Analysed:
    assert _given is not None
    return analyse(notes, *_given)


class Analysis:
    """Read and analyse notes, as a context that ends the processes it started."""

    def __init__(
        self, notebook: Notebook, vocabulary: Vocabulary, *, notes: int, workers: int | None = None
    ) -> None:
        """Prepare.

        Args:
            notebook: the notes.
            vocabulary: the words and phrases to find.
            notes: number of notes there are to be analysed.
            workers: number of processes, 1 for this one alone; by default what the notes and cores suggest.
        """
        self._notebook, self._vocabulary = notebook, vocabulary
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
                    self._workers,
                    mp_context=spawn,
                    initializer=_start,
                    initargs=(self._notebook.root, self._vocabulary),
                )
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the processes."""
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def of(
        self, notes: Sequence[Stamped], *, batch: int, tell: Callable[[int, int], None]
    ) -> Iterator[Analysed]:
        """Yield what the index keeps of notes, in their order; the other processes go on meanwhile.

        batch: fewest notes to yield at a time. tell: called with the number of notes done, and of all.
        """
        rows: list[NoteRow] = []
        vectors: list[Vectors] = []
        done = 0
        for some, some_vectors in self._chunks(notes):
            rows += some
            vectors.append(some_vectors)
            done += len(some)
            tell(done, len(notes))
            if len(rows) >= batch or done == len(notes):
                there = [each for each in vectors if each is not None]
                yield rows, np.concatenate(there) if len(there) == len(vectors) else None
                rows, vectors = [], []

    def _chunks(self, notes: Sequence[Stamped]) -> Iterator[Analysed]:
        parts = [notes[start : start + _CHUNK] for start in range(0, len(notes), _CHUNK)]
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
            yield analyse(part, self._notebook, self._vocabulary)
