"""Write and merge the segments of the Whoosh index, in memory.

A whole index is a dictionary of files; integrity.py keeps it on disk. Whoosh does the writing, with three
parts of its own exchanged: terms come ready made, postings are gathered in arrays instead of being sorted as
tuples, and segments are merged list by list. Rows (search/rows.py) go along with every segment.
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from whoosh import formats
from whoosh.codec.whoosh3 import W3Codec
from whoosh.fields import FieldType, Schema
from whoosh.filedb.filestore import RamStorage
from whoosh.filedb.structfile import BufferFile
from whoosh.index import TOC, FileIndex
from whoosh.reading import SegmentReader
from whoosh.writing import SegmentWriter

from search.index.postings import read_posting
from search.index.rows import NUMBERS, NoteRow, Rows, join_rows, rows_of, unpack_rows
from search.index.schema import FIELDS
from search.stats.arrays import BoolArray, IntArray

INDEX_NAME = "MAIN"
ROWS_SUFFIX = ".rows"

# Chosen by us: a segment is merged once those after it hold a third of its notes, or a third of its own
# notes are dead. So a notebook of any size has few segments, and a large one is seldom written again.
MERGE_SHARE = 3
BLOCK_LIMIT = 512  # postings in a block; whole lists are read, so larger blocks than Whoosh's 128 are quicker


class TermsField(FieldType):  # type: ignore[misc]  # Whoosh has no types
    """Index a list of ready terms with their frequencies, without positions or values."""

    def __init__(self) -> None:
        """Take formats.Existence, the one that writes no value beside each posting."""
        super().__init__(format=formats.Existence(), analyzer=None)

    def index(self, value: Sequence[str], **kwargs: Any) -> Iterator[tuple[bytes, int, float, bytes]]:
        """Yield (term, frequency, weight, value) for each distinct term."""
        for term, frequency in Counter(value).items():
            yield term.encode("utf-8"), frequency, float(frequency), b""


def schema() -> Schema:
    """Return the fields of the index."""
    return Schema(**{name: TermsField() for name in FIELDS})


class MemoryStorage(RamStorage):  # type: ignore[misc]
    """Keep index files in memory, temporary ones too, and read them without a copy."""

    def __init__(self, files: Mapping[str, bytes]) -> None:
        """Start from files by name; the mapping itself is not changed."""
        super().__init__()
        self.files = dict(files)

    def open_file(self, name: str, **kwargs: Any) -> BufferFile:
        """Open a file for reading."""
        if name not in self.files:
            raise NameError(name)
        return BufferFile(self.files[name], name=name, **kwargs)

    def temp_storage(self, name: str | None = None) -> MemoryStorage:
        """Return a storage for temporary files."""
        return MemoryStorage({})


class PostingPool:
    """Gather postings by field and term while a segment is written.

    Takes the place of Whoosh's own pool, which keeps and sorts one tuple a posting. Documents must come in
    ascending order.
    """

    def __init__(self) -> None:
        """Start empty."""
        self.fieldnames: set[str] = set()
        self._lists: dict[tuple[str, bytes], tuple[array[int], array[int]]] = {}

    def add(self, item: tuple[str, bytes, int, float, bytes]) -> None:
        """Add one posting as Whoosh gives it: field, term, document, weight, value."""
        field, term, document, weight, _ = item
        self.fieldnames.add(field)
        documents, frequencies = self._list(field, term)
        documents.append(document)
        frequencies.append(int(weight))

    def extend(self, field: str, term: bytes, documents: IntArray, frequencies: Sequence[int]) -> None:
        """Add the rest of a term's list at once."""
        self.fieldnames.add(field)
        all_documents, all_frequencies = self._list(field, term)
        all_documents.extend(documents.tolist())
        all_frequencies.extend(frequencies)

    def iter_postings(self) -> Iterator[tuple[str, bytes, int, float, bytes]]:
        """Yield all postings by field, then term, then document."""
        for field, term in sorted(self._lists):
            for document, frequency in zip(*self._lists[field, term], strict=True):
                yield field, term, document, float(frequency), b""

    def cleanup(self) -> None:
        """Drop what was gathered."""
        self._lists.clear()

    def _list(self, field: str, term: bytes) -> tuple[array[int], array[int]]:
        found = self._lists.get((field, term))
        if found is None:
            found = self._lists[field, term] = (array("I"), array("I"))
        return found


@dataclass(frozen=True, kw_only=True)
class Segments:
    """Hold one whole index: its files, the segments they make up, and the rows of each.

    generation: number of the table of contents in use. parts: the segment's name and its rows, in document
    order. dead: per segment, the documents deleted from it, shape (rows,).
    """

    files: Mapping[str, bytes]
    generation: int
    parts: tuple[tuple[str, Rows], ...]
    dead: tuple[BoolArray, ...]

    def reader(self) -> Any:
        """Open a Whoosh reader on the index."""
        storage = MemoryStorage(self.files)
        info = TOC.read(storage, INDEX_NAME, gen=self.generation, schema=schema())
        return FileIndex._reader(storage, info.schema, info.segments, info.generation)

    @property
    def size(self) -> int:
        """Count the documents, dead ones included."""
        return sum(len(rows) for _, rows in self.parts)

    @property
    def alive(self) -> BoolArray:
        """Tell which documents are alive, shape (size,)."""
        return ~np.concatenate([np.zeros(0, np.bool_), *self.dead])

    def numbers(self, name: str) -> npt.NDArray[Any]:
        """Return a column of NUMBERS over all segments, shape (size,)."""
        empty = np.empty(0, NUMBERS[name])
        return np.concatenate([empty, *(rows.numbers[name] for _, rows in self.parts)])


def empty_segments(generation: int) -> Segments:
    """Return an index without a document. generation: a number that was not used before."""
    storage = MemoryStorage({})
    TOC(schema(), [], generation).write(storage, INDEX_NAME)
    return Segments(files=storage.files, generation=generation, parts=(), dead=())


def open_segments(
    files: Mapping[str, bytes], generation: int, known: Mapping[str, Rows] | None = None
) -> Segments:
    """Return the index that files hold; known: rows already at hand, by segment.

    Raises: whatever Whoosh or numpy raise for files that are no index (the caller has verified them).
    """
    info = TOC.read(MemoryStorage(files), INDEX_NAME, gen=generation, schema=schema())
    parts: list[tuple[str, Rows]] = []
    dead: list[BoolArray] = []
    for segment in info.segments:
        name = segment.segment_id()
        rows = (known or {}).get(name) or unpack_rows(files[name + ROWS_SUFFIX])
        if len(rows) != segment.doc_count_all():
            raise ValueError(f"{name}: {len(rows)} rows for {segment.doc_count_all()} documents")
        mask = np.zeros(len(rows), np.bool_)
        mask[np.fromiter(segment.deleted_docs(), np.int64)] = True
        parts.append((name, rows))
        dead.append(mask)
    return Segments(files=dict(files), generation=generation, parts=tuple(parts), dead=tuple(dead))


def update_segments(
    before: Segments,
    *,
    delete: Sequence[int],
    add: Sequence[NoteRow],
    vectors: npt.NDArray[np.float16] | None = None,
    merge: bool = True,
) -> Segments:
    """Return the index with documents deleted and notes added; before stays as it is.

    delete: document numbers. vectors: those of the notes added, (len(add), 256), or None.
    merge: take small segments and those full of dead documents into the new one.
    """
    storage = MemoryStorage(before.files)
    index = FileIndex(storage, schema(), INDEX_NAME)
    writer = _writer(index)
    for number in delete:
        writer.delete_document(number)
    for note in add:
        writer.add_document(**{name: terms for name, terms in note.terms.items() if terms})
    merged: list[str] = []
    writer.commit(mergetype=lambda writer, segments: _merge(writer, segments, merged) if merge else segments)
    known = dict(before.parts)
    fresh = [rows_of(add, vectors)] if add else []
    dead = _dead_in(before, delete)
    fresh += [known[name].take(~dead[name]) for name in merged]
    files = dict(storage.files)  # Whoosh has dropped the files of merged segments, rows included
    if fresh:
        name = writer.newsegment.segment_id()
        files[name + ROWS_SUFFIX] = join_rows(fresh).pack()
    return open_segments(files, writer.generation, known)


def _writer(index: FileIndex) -> SegmentWriter:
    # Nobody reads lengths from Whoosh: rows hold the exact ones, so they are not worth a look-up a posting.
    codec = W3Codec(blocklimit=BLOCK_LIMIT, compression=1)
    codec.length_stats = False
    writer = SegmentWriter(index, codec=codec, compound=False)
    writer.pool = PostingPool()
    return writer


def _merge(writer: SegmentWriter, segments: list[Any], merged: list[str]) -> list[Any]:
    """Take small and half-dead segments into the one being written; return those left alone."""
    kept = []
    total = writer.docnum
    for segment in sorted(segments, key=lambda each: each.doc_count()):
        alive = segment.doc_count()
        if not alive:
            continue
        crowded = segment.deleted_count() * MERGE_SHARE > segment.doc_count_all()
        if crowded or (total and alive <= MERGE_SHARE * total):
            _take_in(writer, segment)
            merged.append(segment.segment_id())
            total += alive
        else:
            kept.append(segment)
    order = {segment.segment_id(): place for place, segment in enumerate(segments)}
    return sorted(kept, key=lambda segment: order[segment.segment_id()])


def _take_in(writer: SegmentWriter, segment: Any) -> None:
    """Copy the living documents of a segment behind those already written."""
    alive = np.ones(segment.doc_count_all(), np.bool_)
    alive[np.fromiter(segment.deleted_docs(), np.int64)] = False
    new_number = writer.docnum + np.cumsum(alive) - 1
    for _ in range(int(np.count_nonzero(alive))):
        writer.perdocwriter.start_doc(writer.docnum)
        writer.perdocwriter.finish_doc()
        writer.docnum += 1
    reader = SegmentReader(writer.storage, writer.schema, segment)
    for field, term in reader.all_terms():
        numbers, frequencies = read_posting(reader, field, term.decode("utf-8"))
        keep = alive[numbers]
        if keep.any():
            writer.pool.extend(field, term, new_number[numbers[keep]], frequencies[keep].astype(int).tolist())
    reader.close()
    writer._added = True


def _dead_in(before: Segments, delete: Sequence[int]) -> dict[str, BoolArray]:
    """Return, for each segment, which documents are dead once more are deleted."""
    mask = ~before.alive
    mask[np.array(delete, np.int64)] = True
    starts = np.cumsum([0, *(len(rows) for _, rows in before.parts)])
    return {
        name: mask[start : start + len(rows)]
        for (name, rows), start in zip(before.parts, starts, strict=False)
    }
