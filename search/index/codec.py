"""Write and read the posting lists of a Whoosh index as arrays. The index's segments name this codec.

Whoosh's own codec pickles a list number by number, which took half the time of an answer with new words. Here
a term has one block: two bytes for the widths, the gaps between document numbers, the frequencies. The rest
of the index is as Whoosh's codec writes it, so that Whoosh's own searcher can search it.
"""

from typing import Any

import numpy as np
import numpy.typing as npt
from whoosh.codec.whoosh3 import W3Codec, W3PostingsWriter
from whoosh.matching import ListMatcher
from whoosh.reading import TermNotFound

from search.stats.arrays import BoolArray, FloatArray, IntArray

Posting = tuple[IntArray, FloatArray]

NOTHING: Posting = (np.empty(0, np.int32), np.empty(0, np.float32))
_GAPS = (np.dtype("u1"), np.dtype("<u2"), np.dtype("<u4"))
_FREQUENCIES = (np.dtype("V0"), np.dtype("u1"), np.dtype("<f4"))  # not written where all are 1


class ArrayCodec(W3Codec):  # type: ignore[misc]  # Whoosh has no types
    """Keep the documents and frequencies of each term, whole numbers; no positions or other values."""

    def postings_writer(self, dbfile: Any, byteids: bool = False) -> "_ArrayWriter":
        """Return the writer of the posting lists of one field."""
        return _ArrayWriter(dbfile, blocklimit=2**32, inlinelimit=0)

    def postings_reader(
        self, dbfile: Any, terminfo: Any, format_: Any, term: Any = None, scorer: Any = None
    ) -> ListMatcher:
        """Return a posting list in the form that Whoosh walks."""
        numbers, frequencies = (array.tolist() for array in _unpack(dbfile, terminfo))
        return ListMatcher(numbers, frequencies, format=format_, scorer=scorer, term=term, terminfo=terminfo)


class _ArrayWriter(W3PostingsWriter):  # type: ignore[misc]
    def write_list(self, numbers: IntArray, frequencies: npt.NDArray[Any]) -> None:
        """Write the whole list of the current term. frequencies: whole numbers above 0."""
        info = self._terminfo
        info._df, info._weight = len(numbers), float(frequencies.sum())
        info._maxweight = float(frequencies.max())
        info._minid, info._maxid = int(numbers[0]), int(numbers[-1])
        gaps = numbers.copy()
        gaps[1:] -= numbers[:-1]
        widest = int(gaps.max())
        gap_kind = 0 if widest < 2**8 else 1 if widest < 2**16 else 2
        kind = int(info._weight != info._df) if info._maxweight < 2**8 else 2
        self._postfile.write(
            bytes((gap_kind, kind))
            + gaps.astype(_GAPS[gap_kind]).tobytes()
            + frequencies.astype(_FREQUENCIES[kind]).tobytes()
        )

    def _write_block(self, last: bool = False) -> None:
        """Write the postings that Whoosh's own writers have added one by one."""
        self.write_list(np.array(self._ids, np.int64), np.array(self._weights, np.float32))


def read_postings(leaf: Any, field: str, term: str) -> Posting:
    """Read one term's whole posting list from one segment, numbered within the segment.

    leaf: a whoosh.reading.SegmentReader. An unknown term or field gives empty arrays. Raises: ValueError for
    documents that do not exist.
    """
    try:
        info = leaf._terms.term_info(field, term.encode())
    except TermNotFound:
        return NOTHING
    numbers, frequencies = _unpack(leaf._terms._postfile, info)
    if numbers[-1] >= leaf.doc_count_all():
        raise ValueError(f"postings of documents that are not there, of {term}")
    return numbers.astype(np.int32), frequencies


def living(segment: Any) -> BoolArray:
    """Tell which documents of a Whoosh segment are alive; shape (documents,)."""
    alive = np.ones(segment.doc_count_all(), np.bool_)
    alive[np.fromiter(segment.deleted_docs(), np.int64)] = False
    return alive


def _unpack(postfile: Any, info: Any) -> tuple[npt.NDArray[np.int64], FloatArray]:
    """Return the numbers and frequencies written for a term."""
    start, count = info.extent()[0] + 2, info.doc_frequency()
    widths = postfile.get(start - 2, 2)
    gap_type, kind = _GAPS[widths[0]], _FREQUENCIES[widths[1]]
    data = postfile.get(start, count * (gap_type.itemsize + kind.itemsize))
    numbers = np.cumsum(np.frombuffer(data, gap_type, count), dtype=np.int64)
    if not kind.itemsize:
        return numbers, np.ones(count, np.float32)
    return numbers, np.frombuffer(data, kind, count, count * gap_type.itemsize).astype(np.float32)
