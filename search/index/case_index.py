"""The index of a notebook: built from the notes and kept in step with them.

The index in use is in memory; a copy on disk (search/index/integrity.py) saves other processes the work. So
answers go on when the copy cannot be written, or is damaged.
"""

import contextlib
import logging
import threading
from collections.abc import Callable, Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import compress, islice
from typing import Any, Self

from kb.notebook import CASES, FileStamp, Notebook, stamp_of
from search.index.analysis import CHUNK, analyse_on_all_cores, read_note
from search.index.codec import Posting
from search.index.documents import facts_of, read_documents
from search.index.integrity import IndexFolder, digest_of, tried_again
from search.index.postings import LISTS_SHARE, USUAL_CACHE_MB, ListKey, PostingCache
from search.index.segments import (
    MERGE_SHARE,
    Batch,
    Segments,
    batch_of,
    empty_segments,
    open_segments,
    update_segments,
)
from search.index.snapshot import RefreshReport, Snapshot, snapshot_of
from search.reading.concepts import finder_for
from search.reading.vectors import load_meaning

__all__ = ["CaseIndex", "RefreshReport", "Snapshot"]

Progress = Callable[[int, int], None]
_LOG = logging.getLogger(__name__)

# How long to wait while another process writes the index, before going on with our own in memory.
LOCK_WAIT_S = 10.0  # chosen by us: longer than any save, shorter than building a large index
# When so many notes, and a third of all, are new or touched (as in a fresh copy), the whole index is built on
# all cores. Then the next process need not compare their contents again; chosen by us.
MANY_FRESH = 200
LARGE = 20_000  # looking at so many notes takes longer than a request should wait; chosen by us
_TOP = f"{CASES}/"
_BATCHES = 100  # of notes that make one segment while building, to bound memory; chosen by us


class CaseIndex:
    """Search a notebook through its index. Safe between threads, and between processes on one notebook."""

    def __init__(
        self,
        notebook: Notebook,
        *,
        progress: Progress = lambda done, total: None,
        meanwhile: Callable[[Self], object] = lambda index: None,
        look_later: bool = False,
        cache_mb: float = USUAL_CACHE_MB,
    ) -> None:
        """Open the index and bring it up to date.

        progress: called with (notes done, notes in all). meanwhile: called with the index found on disk,
        while the files are looked at. look_later: in a large notebook use the index as found and leave the
        files to the next refresh; `looked` is False until then. cache_mb: see BlockPostings.
        """
        self.notebook = notebook
        self._tell, self._cache_mb = progress, cache_mb
        # Kept from state to state: a save adds a small segment, and the lists of all others stay valid.
        self._lists: PostingCache[ListKey, Posting] = PostingCache(cache_mb * LISTS_SHARE)
        self._lock = threading.RLock()
        self._disk = IndexFolder(lambda: notebook.state_dir)
        self._stamps: dict[str, FileStamp] = {}
        self._facts: Mapping[str, Any] = {}
        self._taken_up = self._mended = False
        self.looked = True
        self._adopt(empty_segments(0), {})
        with ThreadPoolExecutor() as pool:  # this mostly waits for the disk, so the index is read meanwhile
            pool.submit(load_meaning)
            pool.submit(lambda: finder_for(notebook.vocabulary()))
            if look_later and self._look_at_disk() and len(self._stamps) >= LARGE:
                self.looked = self._facts != facts_of(notebook.vocabulary(), len(self._stamps))
            if not self.looked:
                meanwhile(self)
                return
            scanning = pool.submit(self.look)

            def scan() -> dict[str, FileStamp]:
                if self._taken_up:
                    meanwhile(self)
                return scanning.result()

            self.refresh(scan=scan)

    @property
    def warning(self) -> str:
        """Return why the index is not kept on disk, in a sentence; "" when it is."""
        return self._disk.warning

    def snapshot(self) -> Snapshot:
        """Return the state of the index to answer from, after repairing damage on disk."""
        # While another thread works on the index, the state before that work will do.
        if self._lock.acquire(blocking=False):
            try:
                if self._disk.stored is not None:
                    self._look_at_disk()
            finally:
                self._lock.release()
        return self._snapshot

    @tried_again
    def refresh(
        self, *, only: Collection[str] | None = None, scan: Callable[[], dict[str, FileStamp]] | None = None
    ) -> RefreshReport:
        """Bring the index in step with the notes; only notes that changed are read.

        only: paths of the notes to look at, after a save; looking at every note of a large notebook takes a
        second or more. scan: returns what look() returned, which may be older than other refreshes.
        Raises: NotebookError when the notebook is gone.
        """
        with self._lock:
            self._look_at_disk()
            scanned = scan() if scan else self._look_at(only)
            notes = len(scanned if only is None else self._stamps)
            facts = facts_of(self.notebook.vocabulary(), notes)
            fresh, gone = self._differences(scanned, only)
            if facts == self._facts and not fresh and not gone:
                return RefreshReport()
            with self._disk.sole_writer(LOCK_WAIT_S) as sole:
                if self._look_at_disk():
                    # A case that another process has added since the first look is not gone.
                    scanned = self._look_at(only)
                    fresh, gone = self._differences(scanned, only)
                many = len(fresh) >= MANY_FRESH and MERGE_SHARE * len(fresh) > len(self._stamps)
                if facts != self._facts or many:
                    return self._build(sole)
                return self._apply(fresh, gone, sole)

    def distrust(self) -> bool:
        """Build the index again if it was read from disk, where somebody may have written anything.

        Call this after an error that the index may have caused. Returns: True when another try is worth it.
        """
        with self._lock:
            if self._taken_up:
                self._disk.damage = self._disk.damage or "it cannot be used"
                self._mended = True
                self.rebuild()
            return self._mended

    def look(self) -> dict[str, FileStamp]:
        """Return the stamps of all case notes. Raises: NotebookError when the notebook is gone."""
        return {path: stamp for path, stamp in self.notebook.scan().items() if path.startswith(_TOP)}

    def rebuild(self) -> RefreshReport:
        """Build the whole index from the notes again."""
        with self._lock, self._disk.sole_writer(LOCK_WAIT_S) as sole:
            return self._build(sole)

    def _build(self, sole: bool) -> RefreshReport:
        """Index every note anew. sole: no other process writes, so the index may be kept on disk."""
        vocabulary = self.notebook.vocabulary()
        stamps = list(self.look().items())
        segments = empty_segments(self._snapshot.segments.generation + 1)
        facts = facts_of(vocabulary, len(stamps))
        analysing = analyse_on_all_cores(stamps, self.notebook, vocabulary, facts["meaning"], tell=self._tell)
        with contextlib.closing(analysing) as batches:
            while some := list(islice(batches, _BATCHES)):
                segments = update_segments(segments, delete=[], add=some, merge=False)
        self._adopt(segments, facts)
        self._taken_up = False
        self._keep(sole)
        return RefreshReport(added=len(stamps), rebuilt=True)

    def _apply(self, fresh: Mapping[str, FileStamp], gone: Sequence[str], sole: bool) -> RefreshReport:
        """Read the notes that changed and put them into the index; take out those that are gone."""
        here = self._look_at([*fresh, *gone])  # other refreshes may have added or removed some since
        fresh = {path: here[path] for path in fresh if path in here}
        gone = [path for path in gone if path not in here]
        table, finder = self._snapshot.table, finder_for(self.notebook.vocabulary())
        wanted = {path for path in (*fresh, *gone) if path in self._stamps}
        places = enumerate(table.paths) if wanted else ()
        rows = {path: row for row, path in places if path in wanted and table.alive[row]}
        digests = table.texts("digest") if wanted else []
        dead = [rows[path] for path in gone if path in rows]
        added: list[Batch] = []
        stamps: dict[str, FileStamp] = {}
        items = iter(fresh.items())
        while some := list(islice(items, CHUNK)):
            read = [(path, *read_note(self.notebook, path, stamp)) for path, stamp in some]
            stamps.update((path, stamp) for path, _, stamp in read)
            notes = [
                each for each in read if each[0] not in rows or digests[rows[each[0]]] != digest_of(each[1])
            ]
            dead += [rows[path] for path, _, _ in notes if path in rows]
            added += [batch_of(read_documents(notes, finder), self._facts["meaning"])] if notes else []
            self._tell(len(stamps), len(fresh))
        if added or dead:
            segments = update_segments(self._snapshot.segments, delete=dead, add=added)
            self._answer_from(segments, self._facts)
            self._keep(sole)
        self._stamps.update(stamps)
        for path in gone:
            del self._stamps[path]
        changed = len(dead) - len(gone)
        new = sum(len(rows) for rows, _ in added) - changed
        return RefreshReport(added=new, changed=changed, removed=len(gone))

    def _differences(
        self, scanned: Mapping[str, FileStamp], only: Collection[str] | None
    ) -> tuple[dict[str, FileStamp], list[str]]:
        """Return the stamps of notes that are new or changed, and the paths of notes that are gone."""
        known = self._stamps if only is None else [path for path in only if path in self._stamps]
        fresh = {path: stamp for path, stamp in scanned.items() if self._stamps.get(path) != stamp}
        return fresh, [path for path in known if path not in scanned]

    def _look_at(self, only: Collection[str] | None) -> dict[str, FileStamp]:
        """Return the stamps of the case notes on disk; only: look at these paths alone."""
        if only is None:
            return self.look()
        found: dict[str, FileStamp] = {}
        for path in only:
            with contextlib.suppress(OSError):
                if path.startswith(_TOP):
                    found[path] = stamp_of(self.notebook.path_of(path).stat())
        return found

    def _adopt(self, segments: Segments, facts: Mapping[str, Any]) -> None:
        """Answer from another index, and take over the stamps of its notes."""
        self._answer_from(segments, facts)
        table = self._snapshot.table
        stamps = zip(table.numbers("size").tolist(), table.numbers("mtime_ns").tolist(), strict=True)
        self._stamps = dict(compress(zip(table.paths, stamps, strict=True), table.alive.tolist()))

    def _answer_from(self, segments: Segments, facts: Mapping[str, Any]) -> None:
        self._facts = facts
        self._snapshot = snapshot_of(segments, facts, self._cache_mb, self._lists)

    def _look_at_disk(self) -> bool:
        """Take up what another process wrote, and repair damage. Returns: whether the state has changed."""
        if not self._disk.has_news():
            return False
        kept_before = self._disk.stored is not None
        if self._take_up():
            return True
        if kept_before:
            with self._disk.sole_writer(LOCK_WAIT_S) as sole:
                # Look again as the only writer: what looked damaged may have been half written.
                if not self._take_up():
                    self._keep(sole)
        return False

    def _take_up(self) -> bool:
        """Answer from the index on disk, if it is sound."""
        stored = self._disk.read()
        if stored is None:
            return False
        facts, known = dict(stored.facts), self._snapshot.segments.rows
        try:
            self._adopt(open_segments(stored.files, facts.pop("generation"), known), facts)
        except Exception as error:
            # Perhaps written by another version of Python, numpy or Whoosh, or to do harm: it is built again.
            self._disk.leave()
            self._disk.damage = f"it cannot be opened ({type(error).__name__})"
            return False
        self._taken_up = True
        return True

    def _keep(self, sole: bool) -> None:
        """Write the index in use to disk. sole: no other process writes; else leave the disk to it."""
        segments = self._snapshot.segments
        if self._disk.damage:
            _LOG.warning(
                "%s: damaged, %s; written again from the notes", self._disk.folder, self._disk.damage
            )
            self._disk.damage = ""
        if sole:
            self._disk.write({**self._facts, "generation": segments.generation}, segments.files)
        else:
            self._disk.leave()
