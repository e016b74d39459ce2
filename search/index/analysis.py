"""Read and analyse many notes, on all cores when there are enough to be worth starting processes."""

import contextlib
import gc
import multiprocessing
import os
import time
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

from kb.errors import NoteError
from kb.notebook import FileStamp, Notebook
from kb.terms import Vocabulary
from search.index.documents import read_documents
from search.index.segments import Batch, batch_of
from search.reading.concepts import finder_for

Stamped = tuple[str, FileStamp]  # a note's path and its stamp

# File systems' clocks tick, at the slowest 100 times a second. A note that was read within one tick of being
# written may change again and keep its stamp, so next time its content is compared.
UNSURE_NS = 20_000_000
FEWEST_TO_SHARE = 4_000  # notes; with fewer, starting processes costs more than it saves; chosen by us
CHUNK = 500  # notes analysed at a time; chosen by us
_given: tuple[Notebook, Vocabulary, str] | None = None  # set in a process that only analyses


def read_note(notebook: Notebook, path: str, stamp: FileStamp) -> tuple[bytes, FileStamp]:
    """Return a note's bytes, and its stamp, with time 0 when the note could change and keep its stamp.

    stamp: taken before reading, so that a change in between is seen next time.
    """
    size, mtime_ns = stamp
    unsure = mtime_ns > time.time_ns() - UNSURE_NS
    try:
        data = notebook.read_bytes(path)
    except NoteError:
        data, unsure = b"", True  # gone, unreadable or far too large: looked at again next time
    return data, (size, 0) if unsure else stamp


def analyse(notes: Sequence[Stamped], notebook: Notebook, vocabulary: Vocabulary, meant_by: str) -> Batch:
    """Return what the index keeps of notes, in their order. meant_by: see documents.facts_of()."""
    read = [(path, *read_note(notebook, path, stamp)) for path, stamp in notes]
    return batch_of(read_documents(read, finder_for(vocabulary)), meant_by)


def _start(root: Path, vocabulary: Vocabulary, meant_by: str) -> None:
    global _given
    _given = Notebook(root), vocabulary, meant_by
    gc.disable()  # a note makes thousands of short-lived objects, without circles


def _analyse_chunk(notes: Sequence[Stamped]) -> Batch:
    assert _given is not None
    return analyse(notes, *_given)


def analyse_on_all_cores(
    notes: Sequence[Stamped],
    notebook: Notebook,
    vocabulary: Vocabulary,
    meant_by: str,
    *,
    tell: Callable[[int, int], None],
) -> Generator[Batch]:
    """Yield what the index keeps of notes, in their order, some hundred notes at a time.

    Other processes work ahead; they end with the last batch, or when this generator is closed. tell: called
    with the numbers of notes done and in all. meant_by: see documents.facts_of().
    """
    parts = [notes[start : start + CHUNK] for start in range(0, len(notes), CHUNK)]
    workers = (os.cpu_count() or 1) if len(notes) >= FEWEST_TO_SHARE else 1
    done = 0
    if workers > 1 and not multiprocessing.current_process().daemon:
        with contextlib.suppress(BrokenProcessPool, OSError):  # then this process does the rest by itself
            # Not forked: in a copy of the server, locks that its threads held would stay locked for ever.
            spawn = multiprocessing.get_context("spawn")
            pool = ProcessPoolExecutor(
                workers, mp_context=spawn, initializer=_start, initargs=(notebook.root, vocabulary, meant_by)
            )
            try:
                for done, batch in enumerate(pool.map(_analyse_chunk, parts), start=1):
                    tell(min(done * CHUNK, len(notes)), len(notes))
                    yield batch
            finally:
                pool.shutdown(cancel_futures=True)
    for now, part in enumerate(parts[done:], start=done + 1):
        batch = analyse(part, notebook, vocabulary, meant_by)
        tell(min(now * CHUNK, len(notes)), len(notes))
        yield batch
