"""Give whole posting lists as numpy arrays, from memory or from a Whoosh index.

Whoosh walks a posting list one document at a time in Python, which is most of its search time. Our lists are
arrays (codec.py) and are scored all at once (search/scoring/bm25f.py).
"""

import threading
from collections import Counter, OrderedDict, defaultdict
from collections.abc import Callable, Hashable, Mapping, Sequence
from functools import partial
from typing import Any, Generic, NamedTuple, TypeVar

import numpy as np

from search.index.codec import NOTHING, Posting, living, read_postings
from search.stats.arrays import BoolArray, FloatArray

ListKey = tuple[str, Hashable, str]  # a segment; a field, or the settings of a score; a term
Key = TypeVar("Key", bound=Hashable)
Kept = TypeVar("Kept", bound=tuple[Any, ...])  # arrays, and small things

USUAL_CACHE_MB = 120  # all caches together: holds the common terms of 100,000 notes; chosen by us
LISTS_SHARE = 3 / 4  # of that for lists as they are read, and for what they score; chosen by us
_ENTRY_OVERHEAD_BYTES = 300  # of a cache entry without its arrays, roughly; chosen by us


class Part(NamedTuple):
    """One segment of an index: its name, its first document, its size, and what reads its lists.

    read: returns the postings of a field and a term, numbered from 0 within the segment; keeps none.
    """

    name: str
    start: int
    size: int
    read: Callable[[str, str], Posting]


class MemoryPostings:
    """Hold a small collection in memory: for tests, evaluation, and labelled lists, which have no index.

    size: number of documents, deleted ones included. alive: which are not deleted, (size,). cache_mb: most MB
    for all caches of its lists and of what is made from them.
    """

    cache_mb: float = USUAL_CACHE_MB

    def __init__(self, documents: Sequence[Mapping[str, Sequence[str]]]) -> None:
        """Take the terms of each document by field; all documents are alive."""
        self.size = len(documents)
        self.alive: BoolArray = np.ones(self.size, np.bool_)
        self._lengths: dict[str, FloatArray] = defaultdict(lambda: np.zeros(self.size, np.float32))
        found: dict[tuple[str, str], list[tuple[int, int]]] = defaultdict(list)
        for number, document in enumerate(documents):
            for field, terms in document.items():
                self._lengths[field][number] = len(terms)
                for term, frequency in Counter(terms).items():
                    found[field, term].append((number, frequency))
        lists = {key: np.array(pairs).T for key, pairs in found.items()}
        self._lists: dict[tuple[str, str], Posting] = {
            key: (numbers.astype(np.int32), frequencies.astype(np.float32))
            for key, (numbers, frequencies) in lists.items()
        }
        self.kept: PostingCache[ListKey, Posting] = PostingCache(self.cache_mb * LISTS_SHARE)

    @property
    def parts(self) -> list[Part]:
        """Return the segments; there is one."""
        return [Part("", 0, self.size, self.postings)]

    def postings(self, field: str, term: str) -> Posting:
        """Return the documents with a term, ascending, and its frequency in each (float32).

        An unknown term gives two empty arrays. The arrays are shared: do not write to them.
        """
        return self._lists.get((field, term), NOTHING)

    def lengths(self, field: str) -> FloatArray:
        """Return the number of terms in the field of each document; shape (size,), float32."""
        return self._lengths[field]


class PostingCache(Generic[Key, Kept]):
    """Keep the posting lists used last, or what was made from them. Safe between threads."""

    def __init__(self, limit_mb: float) -> None:
        """Limit the memory for what is kept."""
        self.limit_bytes = round(limit_mb * 1e6)
        self.used_bytes = 0
        self._entries: OrderedDict[Key, Kept] = OrderedDict()
        self._lock = threading.Lock()

    def fetch(self, key: Key, read: Callable[[], Kept]) -> Kept:
        """Return the list kept under a key, or read and keep it.

        When room is needed, the lists used longest ago are dropped.
        """
        with self._lock:
            if key in self._entries:
                self._entries.move_to_end(key)
                return self._entries[key]
        posting = read()  # without the lock, so that others need not wait
        with self._lock:
            if key not in self._entries:
                self._entries[key] = posting
                self.used_bytes += _cost(posting)
            while self.used_bytes > self.limit_bytes:
                _, dropped = self._entries.popitem(last=False)
                self.used_bytes -= _cost(dropped)
            return posting


def _cost(posting: tuple[Any, ...]) -> int:
    return sum(getattr(part, "nbytes", 0) for part in posting) + _ENTRY_OVERHEAD_BYTES


class BlockPostings:
    """Read whole posting lists of a Whoosh index, and keep those asked for last.

    reader: FileIndex.reader() of an index written with ArrayCodec; document numbers run on from segment to
    segment, as in Whoosh. lengths: by field, shape (size,). cache_mb: see MemoryPostings.
    """

    def __init__(
        self,
        reader: Any,
        lengths: Mapping[str, FloatArray],
        cache_mb: float = USUAL_CACHE_MB,
        kept: "PostingCache[ListKey, Posting] | None" = None,
    ) -> None:
        """Take the segments of an open reader. kept: lists read for an earlier state of the index."""
        self.cache_mb = cache_mb
        leaves = [(leaf, offset) for leaf, offset in reader.leaf_readers() if leaf.doc_count_all()]
        self.parts = [
            Part(leaf.segment().segment_id(), offset, leaf.doc_count_all(), partial(read_postings, leaf))
            for leaf, offset in leaves
        ]
        self.size = int(reader.doc_count_all())
        alive = (living(leaf.segment()) for leaf, _ in leaves)
        self.alive: BoolArray = np.concatenate([np.empty(0, np.bool_), *alive])
        self.kept = PostingCache(cache_mb * LISTS_SHARE) if kept is None else kept
        self._lengths = lengths

    def postings(self, field: str, term: str) -> Posting:
        """Return the term's documents and frequencies (see MemoryPostings)."""
        found = [
            self.kept.fetch((part.name, field, term), partial(part.read, field, term)) for part in self.parts
        ]
        return joined(self.parts, found)

    def lengths(self, field: str) -> FloatArray:
        """Return the field's length in each document (see MemoryPostings)."""
        return self._lengths[field]


def joined(parts: Sequence[Part], lists: Sequence[Posting]) -> Posting:
    """Return one list of those of each segment, which are numbered within it."""
    numbers = (own + np.int32(part.start) for part, (own, _) in zip(parts, lists, strict=True))
    return np.concatenate([NOTHING[0], *numbers]), np.concatenate([NOTHING[1], *(each for _, each in lists)])


PostingSource = MemoryPostings | BlockPostings  # what a scorer asks; documents are numbered 0 to size - 1
