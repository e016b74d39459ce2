"""Write and merge the segments of the Whoosh index, in memory.

A whole index is a dictionary of files; integrity.py keeps it on disk. Whoosh does the writing, but terms come
ready made, and postings are gathered, merged and written as arrays (codec.py). Rows (rows.py) go along with
every segment.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
from whoosh import formats
from whoosh.fields import FieldType, Schema
from whoosh.filedb.filestore import RamStorage
from whoosh.filedb.structfile import BufferFile
from whoosh.index import TOC, FileIndex
from whoosh.reading import SegmentReader
from whoosh.writing import SegmentWriter

from search.index.codec import ArrayCodec, Posting, read_postings
from search.index.rows import NUMBERS, NoteRow, Rows, code_texts, join_rows, rows_of, unpack_rows
from search.index.schema import FIELDS
from search.stats.arrays import BoolArray

INDEX_NAME = "MAIN"
ROWS_SUFFIX = ".rows"

# Chosen by us: a segment is merged once those after it hold a third of its notes, or a third of its own
# notes are dead. So a notebook of any size has few segments, and a large one is seldom written again.
MERGE_SHARE = 3


class TermsField(FieldType):  # type: ignore[misc]  # Whoosh has no types
    """Hold terms with their frequencies, without positions or values."""

    def __init__(self) -> None:
        """Take formats.Existence, the one that writes no value beside each posting."""
        super().__init__(format=formats.Existence(), analyzer=None)


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


class _Writer(SegmentWriter):  # type: ignore[misc]
    """Write one segment of notes whose terms are known. Notes must come in ascending order."""

    def __init__(self, index: FileIndex) -> None:
        codec = ArrayCodec()
        codec.length_stats = False  # nobody reads lengths from Whoosh: rows hold the exact ones
        super().__init__(index, codec=codec, compound=False)
        # Of each field: parts of a term's list, in the order of documents.
        self._lists: dict[str, defaultdict[str, list[Posting]]] = {name: defaultdict(list) for name in FIELDS}

    def add_notes(self, notes: Sequence[NoteRow]) -> None:
        """Add notes, counting how often each term stands in each."""
        for field in FIELDS:
            terms = code_texts(list(chain.from_iterable(note.terms[field] for note in notes)))
            documents = np.repeat(np.arange(len(notes)), [len(note.terms[field]) for note in notes])
            cells, counts = np.unique(terms.codes * np.int64(len(notes)) + documents, return_counts=True)
            term_of, numbers = np.divmod(cells, max(len(notes), 1))
            numbers += self.docnum
            ends = np.searchsorted(term_of, np.arange(len(terms.names)), side="right").tolist()
            lists = self._lists[field]
            for term, (start, end) in zip(terms.names, pairwise([0, *ends]), strict=True):
                lists[term].append((numbers[start:end], counts[start:end]))
        self._count(len(notes))

    def take_in(self, segment: Any) -> None:
        """Copy the living notes of another segment behind those already written."""
        alive = np.ones(segment.doc_count_all(), np.bool_)
        alive[np.fromiter(segment.deleted_docs(), np.int64)] = False
        new_number = self.docnum + np.cumsum(alive) - 1
        reader = SegmentReader(self.storage, self.schema, segment)
        for field, encoded in reader.all_terms():
            term = encoded.decode("utf-8")
            numbers, frequencies = read_postings(reader, field, term)
            keep = alive[numbers]
            if keep.any():
                self._lists[field][term].append((new_number[numbers[keep]], frequencies[keep]))
        reader.close()
        self._count(int(np.count_nonzero(alive)))

    def _count(self, notes: int) -> None:
        self.docnum += notes
        self._added |= notes > 0

    def _flush_segment(self) -> None:
        """Write whole lists; Whoosh's own writer takes up one posting at a time."""
        self.perdocwriter.close()
        for field in sorted(FIELDS):
            self.fieldwriter.start_field(field, self.schema[field])
            for term, parts in sorted(self._lists[field].items()):
                self.fieldwriter.start_term(term.encode("utf-8"))
                whole = parts[0] if len(parts) == 1 else map(np.concatenate, zip(*parts, strict=True))
                self.fieldwriter._postwriter.write_list(*whole)
                self.fieldwriter.finish_term()
            self.fieldwriter.finish_field()
        self.fieldwriter.close()


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
    writer = _Writer(FileIndex(storage, schema(), INDEX_NAME))
    for number in delete:
        writer.delete_document(number)
    writer.add_notes(add)
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


def _merge(writer: _Writer, segments: list[Any], merged: list[str]) -> list[Any]:
    """Take small and half-dead segments into the one being written; return those left alone."""
    kept = []
    total = writer.docnum
    for segment in sorted(segments, key=lambda each: each.doc_count()):
        alive = segment.doc_count()
        if not alive:
            continue
        crowded = segment.deleted_count() * MERGE_SHARE > segment.doc_count_all()
        if crowded or (total and alive <= MERGE_SHARE * total):
            writer.take_in(segment)
            merged.append(segment.segment_id())
            total += alive
        else:
            kept.append(segment)
    order = {segment.segment_id(): place for place, segment in enumerate(segments)}
    return sorted(kept, key=lambda segment: order[segment.segment_id()])


def _dead_in(before: Segments, delete: Sequence[int]) -> dict[str, BoolArray]:
    """Return, for each segment, which documents are dead once more are deleted."""
    mask = ~before.alive
    mask[np.array(delete, np.int64)] = True
    starts = np.cumsum([0, *(len(rows) for _, rows in before.parts)])
    return {
        name: mask[start : start + len(rows)]
        for (name, rows), start in zip(before.parts, starts, strict=False)
    }
