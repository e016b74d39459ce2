"""Write and merge the segments of the Whoosh index, in memory.

A whole index is a dictionary of files; integrity.py keeps it on disk. Whoosh does the writing, but it gets
finished terms, and postings are gathered, merged and written as arrays (codec.py). Every segment has its rows
(rows.py).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, pairwise
from typing import Any, NamedTuple

import numpy as np
from whoosh import formats
from whoosh.fields import FieldType, Schema
from whoosh.filedb.filestore import RamStorage
from whoosh.filedb.structfile import BufferFile
from whoosh.index import TOC, FileIndex
from whoosh.reading import SegmentReader
from whoosh.writing import SegmentWriter

from search.index.codec import NOTHING, ArrayCodec, Posting, living, read_postings
from search.index.documents import SENTENCES
from search.index.rows import (
    FIELDS,
    CategoricalColumn,
    NoteRow,
    Rows,
    code_texts,
    join_coded,
    join_rows,
    rows_of,
    unpack_rows,
)
from search.reading.sentences import load_sentences
from search.reading.vectors import load_meaning
from search.stats.arrays import BoolArray, FloatArray, IntArray

INDEX_NAME = "MAIN"
ROWS_SUFFIX = ".rows"

# Chosen by us: a segment is merged when later ones hold a third as many notes, or a third of its own notes
# are deleted. So there are always few segments, and a large one is seldom written again.
MERGE_SHARE = 3


def schema() -> Schema:
    """Return the fields of the index: terms with frequencies. The format Existence writes nothing else."""
    return Schema(**{name: FieldType(formats.Existence(), analyzer=None) for name in FIELDS})


class MemoryStorage(RamStorage):  # type: ignore[misc]  # Whoosh has no types
    """Keep index files in memory, temporary ones too."""

    def __init__(self, files: Mapping[str, bytes]) -> None:
        """Start with some files by name; the mapping itself stays unchanged."""
        super().__init__()
        self.files = dict(files)

    def open_file(self, name: str, **kwargs: Any) -> BufferFile:
        """Open a file without the copy of its bytes that Whoosh would make."""
        return BufferFile(self.files[name], name=name, **kwargs)

    def temp_storage(self, name: str | None = None) -> "MemoryStorage":
        """Return a storage for temporary files."""
        return MemoryStorage({})


class Lists(NamedTuple):
    """Hold the posting lists of one field: the term, document and frequency of each posting.

    The documents of a term ascend.
    """

    terms: CategoricalColumn
    documents: IntArray
    frequencies: FloatArray


Batch = tuple[Rows, Mapping[str, Lists]]  # what the index keeps of some notes


def batch_of(notes: Sequence[NoteRow], meant_by: str) -> Batch:
    """Return the rows and the posting lists of notes. meant_by: see documents.facts_of()."""
    meaning = load_sentences() if meant_by == SENTENCES else load_meaning()
    vectors = None
    if meaning is not None and notes:
        vectors = meaning.vectors([note.meaning for note in notes]).astype(np.float16)
    lists = {field: _lists_of([note.terms[field] for note in notes]) for field in FIELDS}
    return rows_of(notes, vectors), lists


def _lists_of(notes: Sequence[Sequence[str]]) -> Lists:
    """Return the posting lists of one field; notes: the terms of each."""
    terms = code_texts(list(chain.from_iterable(notes)))
    numbers = np.repeat(np.arange(len(notes)), [len(each) for each in notes])
    cells, counts = np.unique(terms.codes * np.int64(len(notes)) + numbers, return_counts=True)
    codes, documents = np.divmod(cells, max(len(notes), 1))
    return Lists(
        CategoricalColumn(terms.names, codes.astype(np.int32)),
        documents.astype(np.int32),
        counts.astype(np.float32),
    )


class _Writer(SegmentWriter):  # type: ignore[misc]
    """Write one segment of notes with known terms. Add notes in ascending order."""

    def __init__(self, index: FileIndex) -> None:
        codec = ArrayCodec()
        codec.length_stats = False  # rows hold the exact lengths
        super().__init__(index, codec=codec, compound=False)
        self._lists: dict[str, list[Lists]] = {name: [] for name in FIELDS}

    def add(self, lists: Mapping[str, Lists], notes: int) -> None:
        """Append some notes with their posting lists."""
        for field, each in lists.items():
            self._lists[field].append(each._replace(documents=each.documents + np.int32(self.docnum)))
        self.docnum += notes
        self._added |= notes > 0

    def take_in(self, segment: Any) -> BoolArray:
        """Append the notes of another segment that are alive, and return which are; (documents,)."""
        alive = living(segment)
        new_number = np.cumsum(alive, dtype=np.int32) - 1
        reader = SegmentReader(self.storage, self.schema, segment)
        found: dict[str, dict[str, Posting]] = {name: {} for name in FIELDS}
        for field, encoded in reader.all_terms():
            term = encoded.decode("utf-8")
            found[field][term] = read_postings(reader, field, term)
        reader.close()
        lists = {}
        for field, postings in found.items():
            numbers, frequencies = map(np.concatenate, zip(NOTHING, *postings.values(), strict=True))
            sizes = [len(each) for each, _ in postings.values()]
            codes = np.repeat(np.arange(len(postings), dtype=np.int32), sizes)
            keep = alive[numbers]
            terms = CategoricalColumn(list(postings), codes[keep])
            lists[field] = Lists(terms, new_number[numbers[keep]], frequencies[keep])
        self.add(lists, int(np.count_nonzero(alive)))
        return alive

    def _flush_segment(self) -> None:
        """Write whole posting lists; Whoosh's own writer would take one posting at a time."""
        self.perdocwriter.close()
        for field in sorted(FIELDS):
            self.fieldwriter.start_field(field, self.schema[field])
            lists = self._lists.pop(field)
            terms = join_coded([each.terms for each in lists])
            terms = terms.used(terms.codes >= 0)
            order = np.argsort(terms.codes, kind="stable")
            numbers = np.concatenate([NOTHING[0], *(each.documents for each in lists)])[order]
            frequencies = np.concatenate([NOTHING[1], *(each.frequencies for each in lists)])[order]
            ends = np.cumsum(np.bincount(terms.codes)).tolist()
            for term, (start, end) in zip(terms.names, pairwise([0, *ends]), strict=True):
                self.fieldwriter.start_term(term.encode("utf-8"))
                self.fieldwriter._postwriter.write_list(numbers[start:end], frequencies[start:end])
                self.fieldwriter.finish_term()
            self.fieldwriter.finish_field()
        self.fieldwriter.close()


@dataclass(frozen=True, kw_only=True)
class Segments:
    """Hold one whole index: its files, the segments they make up, and the rows of each.

    generation: number of the table of contents in use. parts: (name, rows, which of them are alive) of each
    segment.
    """

    files: Mapping[str, bytes]
    generation: int
    parts: tuple[tuple[str, Rows, BoolArray], ...]

    @property
    def rows(self) -> dict[str, Rows]:
        """Return the rows of each segment, by its name."""
        return {name: rows for name, rows, _ in self.parts}

    def reader(self) -> Any:
        """Open a Whoosh reader on the index."""
        storage = MemoryStorage(self.files)
        info = TOC.read(storage, INDEX_NAME, gen=self.generation, schema=schema())
        return FileIndex._reader(storage, info.schema, info.segments, info.generation)


def empty_segments(generation: int) -> Segments:
    """Return an index without documents. generation: a number not used before."""
    storage = MemoryStorage({})
    TOC(schema(), [], generation).write(storage, INDEX_NAME)
    return Segments(files=storage.files, generation=generation, parts=())


def open_segments(
    files: Mapping[str, bytes], generation: int, known: Mapping[str, Rows] | None = None
) -> Segments:
    """Open the index that files hold. known: rows already unpacked, by segment.

    Raises: whatever Whoosh and numpy raise for files that are no index.
    """
    parts = []
    for segment in TOC.read(MemoryStorage(files), INDEX_NAME, gen=generation, schema=schema()).segments:
        name = segment.segment_id()
        rows = (known or {}).get(name) or unpack_rows(files[name + ROWS_SUFFIX])
        if len(rows) != segment.doc_count_all():
            raise ValueError(f"{name}: {len(rows)} rows for {segment.doc_count_all()} documents")
        parts.append((name, rows, living(segment)))
    return Segments(files=dict(files), generation=generation, parts=tuple(parts))


def update_segments(
    before: Segments, *, delete: Sequence[int], add: Sequence[Batch], merge: bool = True
) -> Segments:
    """Return the index with documents deleted and notes added; `before` stays unchanged.

    delete: document numbers. merge: merge small segments, and those a third deleted, into the new
    one.
    """
    storage = MemoryStorage(before.files)
    writer = _Writer(FileIndex(storage, schema(), INDEX_NAME))
    for number in delete:
        writer.delete_document(number)
    for rows, lists in add:
        writer.add(lists, len(rows))
    merged: dict[str, BoolArray] = {}
    writer.commit(mergetype=lambda writer, segments: _merge(writer, segments, merged) if merge else segments)
    known = before.rows
    fresh = [rows for rows, _ in add] + [known[name].take(alive) for name, alive in merged.items()]
    files = dict(storage.files)  # Whoosh has dropped the files of merged segments, rows included
    if writer.docnum:
        name = writer.newsegment.segment_id()
        files[name + ROWS_SUFFIX] = join_rows(fresh).pack()
    return open_segments(files, writer.generation, known)


def _merge(writer: _Writer, segments: list[Any], merged: dict[str, BoolArray]) -> list[Any]:
    """Merge small segments, and those a third deleted, into the one being written; return the others.

    merged: gets, for each merged segment, which of its documents are alive.
    """
    for segment in sorted(segments, key=lambda each: each.doc_count()):
        crowded = segment.deleted_count() * MERGE_SHARE > segment.doc_count_all()
        if crowded or (writer.docnum and segment.doc_count() <= MERGE_SHARE * writer.docnum):
            merged[segment.segment_id()] = writer.take_in(segment)
    return [segment for segment in segments if segment.segment_id() not in merged]
