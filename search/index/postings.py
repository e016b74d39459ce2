"""Hand out whole posting lists as numpy arrays, from memory or from a Whoosh index.

Whoosh walks a posting list one document at a time, in Python; that walk is most of its search time.
The lists themselves lie on disk in blocks of many documents, so they can be taken up a block at a
time, kept as arrays, and scored all at once (see search/scoring/bm25f.py).
"""

from __future__ import annotations

import threading
from collections import Counter, OrderedDict
from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Any, ClassVar, Generic, Protocol, TypeVar

import numpy as np

from search.index.safe_pickle import inflate, loads
from search.stats.arrays import BoolArray, FloatArray, IntArray

Posting = tuple[IntArray, FloatArray]
Key = TypeVar("Key", bound=Hashable)
Kept = TypeVar("Kept", bound=tuple[Any, ...])  # arrays, and what is small

NOTHING: Posting = (np.empty(0, np.int32), np.empty(0, np.float32))
_LARGEST_BLOCK = 1_000_000  # bytes; chosen by us: a block of 512 postings takes some thousand
USUAL_CACHE_MB = 192  # of all these caches together: the common terms of 100,000 notes; chosen by us
_ENTRY_OVERHEAD_BYTES = 300  # rough cost of a cache entry beside its arrays; chosen by us


class PostingSource(Protocol):
    """What a scorer asks of a collection; documents are numbered 0 to size - 1, dead ones included."""

    @property
    def size(self) -> int:
        """Count the documents, deleted ones included."""
        ...

    @property
    def alive(self) -> BoolArray:
        """Tell which documents are not deleted; shape (size,)."""
        ...

    def postings(self, field: str, term: str) -> Posting:
        """Return document numbers, ascending and distinct, and the term's frequency in each (float32).

        A term that does not occur gives two empty arrays. The arrays are shared: do not write to them.
        """
        ...

    def lengths(self, field: str) -> FloatArray:
        """Return the number of terms in the field of each document; shape (size,), float32."""
        ...


class MemoryPostings:
    """Hold a small collection in memory: for tests, evaluation, and lists that have no index."""

    def __init__(
        self, documents: Sequence[Mapping[str, Sequence[str]]], *, alive: BoolArray | None = None
    ) -> None:
        """Take the terms of each field of each document; alive defaults to every document."""
        self.size = len(documents)
        self.alive: BoolArray = np.ones(self.size, np.bool_) if alive is None else alive
        self._lengths: dict[str, FloatArray] = {}
        lists: dict[tuple[str, str], tuple[list[int], list[int]]] = {}
        for number, document in enumerate(documents):
            for field, terms in document.items():
                self._lengths.setdefault(field, np.zeros(self.size, np.float32))[number] = len(terms)
                for term, frequency in Counter(terms).items():
                    numbers, frequencies = lists.setdefault((field, term), ([], []))
                    numbers.append(number)
                    frequencies.append(frequency)
        self._lists: dict[tuple[str, str], Posting] = {
            key: (np.array(numbers, np.int32), np.array(frequencies, np.float32))
            for key, (numbers, frequencies) in lists.items()
        }

    def postings(self, field: str, term: str) -> Posting:
        """Return the term's documents and frequencies (see PostingSource)."""
        return self._lists.get((field, term), NOTHING)

    def lengths(self, field: str) -> FloatArray:
        """Return the field's length in each document (see PostingSource)."""
        if field not in self._lengths:
            self._lengths[field] = np.zeros(self.size, np.float32)
        return self._lengths[field]


class PostingCache(Generic[Key, Kept]):
    """Keep the most recently used posting lists, or what was made of them, up to a number of bytes.

    total_mb: how much all such caches of one notebook may hold together; for those made afterwards. Safe
    between threads.
    """

    total_mb: ClassVar[float] = USUAL_CACHE_MB

    def __init__(self, share: float) -> None:
        """Bound the cache by its share of them all, 0 to 1."""
        self.limit_bytes = round(share * PostingCache.total_mb * 1e6)
        self.used_bytes = 0
        self._entries: OrderedDict[Key, Kept] = OrderedDict()
        self._lock = threading.Lock()

    def fetch(self, key: Key, read: Callable[[], Kept]) -> Kept:
        """Return the list kept under a key, or read and keep it.

        The lists not asked for longest are dropped while there is no room. One list is read at a time,
        because the files of one Whoosh reader share a position.
        """
        with self._lock:
            found = self._entries.get(key)
            if found is not None:
                self._entries.move_to_end(key)
                return found
            posting = self._entries[key] = read()
            self.used_bytes += _cost(posting)
            while self.used_bytes > self.limit_bytes:
                _, dropped = self._entries.popitem(last=False)
                self.used_bytes -= _cost(dropped)
            return posting

    def __len__(self) -> int:
        """Count the lists kept."""
        return len(self._entries)


def _cost(posting: tuple[Any, ...]) -> int:
    return sum(getattr(part, "nbytes", 0) for part in posting) + _ENTRY_OVERHEAD_BYTES


SegmentCache = PostingCache[tuple[str, str, str], Posting]  # by segment, field and term


class BlockPostings:
    """Read posting lists out of a Whoosh 2.7.4 index, a whole block at a time.

    reader: what FileIndex.reader() gives; its segments are numbered one after the other, as Whoosh does.
    lengths: exact field lengths, shape (size,), by field; fields left out are read from Whoosh's own
    column, which rounds lengths above 10.
    """

    def __init__(
        self,
        reader: Any,
        *,
        cache: SegmentCache | None = None,
        lengths: Mapping[str, FloatArray] | None = None,
    ) -> None:
        """Take up the segments of an open reader."""
        self._leaves: list[tuple[Any, int]] = [
            (leaf, offset) for leaf, offset in reader.leaf_readers() if leaf.doc_count_all()
        ]
        self.size = int(reader.doc_count_all())
        self.alive: BoolArray = np.ones(self.size, np.bool_)
        for leaf, offset in self._leaves:
            dead = np.fromiter(leaf.segment().deleted_docs(), np.int64)
            self.alive[dead + offset] = False
        self._cache: SegmentCache = PostingCache(1 / 3) if cache is None else cache
        self._joined: PostingCache[tuple[str, str], Posting] = PostingCache(1 / 6)
        self._lengths: dict[str, FloatArray] = dict(lengths or {})

    def postings(self, field: str, term: str) -> Posting:
        """Return the term's documents and frequencies (see PostingSource)."""
        return self._joined.fetch((field, term), lambda: self._join(field, term))

    def _join(self, field: str, term: str) -> Posting:
        """Return a term's lists in all segments as one."""
        parts = [(self._segment_posting(leaf, field, term), offset) for leaf, offset in self._leaves]
        found = [(posting, offset) for posting, offset in parts if posting[0].size]
        if not found:
            return NOTHING
        if len(found) == 1 and found[0][1] == 0:
            return found[0][0]
        numbers = np.concatenate([posting[0] + np.int32(offset) for posting, offset in found])
        return numbers, np.concatenate([posting[1] for posting, _ in found])

    def lengths(self, field: str) -> FloatArray:
        """Return the field's length in each document (see PostingSource)."""
        if field not in self._lengths:
            read = [
                leaf.doc_field_length(number, field, 0) or 0
                for leaf, _ in self._leaves
                for number in range(leaf.doc_count_all())
            ]
            self._lengths[field] = np.array(read, np.float32)
        return self._lengths[field]

    def _segment_posting(self, leaf: Any, field: str, term: str) -> Posting:
        key = (str(leaf.segment().segment_id()), field, term)
        return self._cache.fetch(key, lambda: read_posting(leaf, field, term))


def read_posting(leaf: Any, field: str, term: str) -> Posting:
    """Read one term's whole posting list from one segment, numbered within the segment.

    leaf: a whoosh.reading.SegmentReader. A term or field the segment does not know gives empty arrays.
    """
    encoded = term.encode("utf-8")
    terms = leaf._terms
    if (field, encoded) not in terms:
        return NOTHING
    info = terms.term_info(field, encoded)
    if info.is_inlined():
        ids, weights, _ = info.inlined_postings()
        return np.array(ids, np.int32), np.array(weights, np.float32)
    # A matcher knows the codec's layout; it is moved from block to block here, never within one.
    matcher = terms.matcher(field, encoded, leaf.schema[field].format)
    blocks = [_read_block(matcher)]
    while not matcher._lastblock:
        matcher._next_block()
        blocks.append(_read_block(matcher))
    ids_by_block, weights_by_block = zip(*blocks, strict=True)
    numbers, frequencies = np.concatenate(ids_by_block), np.concatenate(weights_by_block)
    there = not numbers.size or 0 <= numbers[0] <= numbers[-1] < leaf.doc_count_all()
    if not there or numbers.shape != frequencies.shape:
        raise ValueError(f"postings of documents that are not there, of {term}")
    return numbers, frequencies


def _read_block(matcher: Any) -> Posting:
    """Decode the block a W3LeafMatcher stands on: pickled (gaps between ids, weights, values)."""
    data = matcher._postfile.get(matcher._dataoffset, matcher._nextoffset - matcher._dataoffset)
    if matcher._compression:
        data = inflate(data, _LARGEST_BLOCK)
    gaps, weights, _ = loads(data)
    # The codec writes no weights when all are 1, and one number when all are equal.
    if weights is None:
        weights = 1.0
    if isinstance(weights, float):
        frequencies = np.full(len(gaps), weights, np.float32)
    else:
        frequencies = np.fromiter(weights, np.float32)
    return np.cumsum(np.fromiter(gaps, np.int32), dtype=np.int32), frequencies
