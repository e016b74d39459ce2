"""Keep what is known of each indexed note in columns: a row for each note, a file for each segment.

Rows have the order of Whoosh's documents. A column of texts that repeat (makes, causes) is kept as its
distinct names and a code for each row; lists of uneven length as one array and the end of each row in it.
Rows never change: segments are immutable, and merging makes new ones.
"""

import json
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from kb.notes.case import CaseNote
from search.stats.arrays import BoolArray, IntArray

FIELDS = ("complaint", "cause", "fix", "body")  # the texts that are searched and scored
TEXTS = ("path", "digest", "case", "comeback_of")
CODED = ("family", "make", "device", "model", "board", "cause", "outcome", "blinks")
NUMBERS: Mapping[str, type[np.generic]] = {
    "size": np.int64,
    "mtime_ns": np.int64,
    "date_days": np.int32,
    "fix_time_min": np.float32,
    "check_time_min": np.float32,
    "readable": np.bool_,
    **{f"length_{name}": np.float32 for name in FIELDS},
}

Array = npt.NDArray[np.generic]


@dataclass(frozen=True, kw_only=True)
class NoteRow:
    """What the index keeps of one note.

    texts, coded, numbers: a value for each of TEXTS, CODED and NUMBERS, "" or nan where nothing was said.
    cause_key: what the root cause is compared by. terms: by field. words: the distinct words as written.
    stored: the packed note. meaning: the text whose meaning vector is taken.
    """

    texts: Mapping[str, str]
    coded: Mapping[str, str]
    numbers: Mapping[str, float]
    cause_key: str
    terms: Mapping[str, Sequence[str]]
    words: Collection[str]
    stored: bytes
    meaning: str


@dataclass(frozen=True)
class CategoricalColumn:
    """Hold a column of texts that repeat: distinct names, and a code for each row, -1 for nothing said."""

    names: list[str]
    codes: IntArray

    def used(self, keep: BoolArray) -> "CategoricalColumn":
        """Return the column with the names that the rows of a mask use; other rows get the code -1."""
        counts = np.bincount(self.codes[keep & (self.codes >= 0)], minlength=len(self.names))
        kept = sorted(np.flatnonzero(counts).tolist(), key=self.names.__getitem__)
        new_code = np.full(len(self.names) + 1, -1, np.int32)
        new_code[kept] = np.arange(len(kept))
        codes = np.where(keep, new_code[self.codes], np.int32(-1))
        return CategoricalColumn([self.names[code] for code in kept], codes)


def code_texts(texts: Sequence[str]) -> CategoricalColumn:
    """Return texts as a coded column; "" gets -1."""
    codes = {name: code for code, name in enumerate(text for text in dict.fromkeys(texts) if text)}
    names = list(codes)
    codes[""] = -1
    return CategoricalColumn(names, np.fromiter(map(codes.__getitem__, texts), np.int32, len(texts)))


def join_coded(columns: Sequence[CategoricalColumn]) -> CategoricalColumn:
    """Join coded columns into one with a single list of names."""
    names: dict[str, int] = {}
    codes: list[IntArray] = [np.empty(0, np.int32)]
    for column in columns:
        new_code = [names.setdefault(name, len(names)) for name in column.names]
        codes.append(np.array([*new_code, -1], np.int32)[column.codes])
    return CategoricalColumn(list(names), np.concatenate(codes))


@dataclass(frozen=True)
class Ragged:
    """Hold lists of uneven length: all values in one array, and where each list ends."""

    values: Array
    ends: IntArray

    def row(self, number: int) -> Array:
        """Return one row's values."""
        start = int(self.ends[number - 1]) if number else 0
        return self.values[start : int(self.ends[number])]

    def take(self, keep: BoolArray) -> "Ragged":
        """Return the rows of a mask."""
        sizes = np.diff(self.ends, prepend=0)
        return _ragged(self.values[np.repeat(keep, sizes)], sizes[keep])


def join_ragged(columns: Sequence[Ragged]) -> Ragged:
    """Join uneven lists in their order."""
    sizes = np.concatenate([np.diff(column.ends, prepend=0) for column in columns])
    return _ragged(np.concatenate([column.values for column in columns]), sizes)


@dataclass(frozen=True, kw_only=True, eq=False)
class Rows:
    """Hold the rows of one segment, in document order.

    word_names: distinct words as written; words: which of them each row has. notes: packed. vectors: (rows,
    256 or 384) float16, None without the extra [meaning]. unpacked: notes read last, by row; later states of
    the index share them.
    """

    texts: Mapping[str, list[str]]
    coded: Mapping[str, CategoricalColumn]
    numbers: Mapping[str, Array]
    cause_keys: Mapping[str, str]
    word_names: list[str]
    words: Ragged
    notes: Ragged
    vectors: npt.NDArray[np.float16] | None = None
    unpacked: dict[int, CaseNote] = field(default_factory=dict, repr=False, compare=False)

    def __len__(self) -> int:
        """Count the rows."""
        return len(self.texts["path"])

    @cached_property
    def word_counts(self) -> IntArray:
        """Return how many rows have each word; shape (len(word_names),)."""
        return np.bincount(self.words.values, minlength=len(self.word_names))

    def take(self, keep: BoolArray) -> "Rows":
        """Return the rows of a mask, (rows,)."""
        rows = np.flatnonzero(keep).tolist()
        return Rows(
            texts={name: [texts[row] for row in rows] for name, texts in self.texts.items()},
            coded={
                name: CategoricalColumn(column.names, column.codes[keep])
                for name, column in self.coded.items()
            },
            numbers={name: column[keep] for name, column in self.numbers.items()},
            cause_keys=self.cause_keys,
            word_names=self.word_names,
            words=self.words.take(keep),
            notes=self.notes.take(keep),
            vectors=None if self.vectors is None else self.vectors[keep],
        )

    def pack(self) -> bytes:
        """Return the rows as one file: a line of JSON that names the arrays, then the arrays."""
        arrays: dict[str, Array] = {
            "words": self.words.values,
            "word_ends": self.words.ends,
            "notes": self.notes.values,
            "note_ends": self.notes.ends,
            **{f"code_{name}": column.codes for name, column in self.coded.items()},
            **self.numbers,
        }
        if self.vectors is not None:
            arrays["vectors"] = self.vectors
        head = {
            "texts": self.texts,
            "names": {name: column.names for name, column in self.coded.items()},
            "cause_keys": self.cause_keys,
            "word_names": self.word_names,
            "arrays": [[name, array.dtype.str, array.shape] for name, array in arrays.items()],
        }
        parts = [json.dumps(head).encode() + b"\n"]
        for array in arrays.values():
            # Each array begins at a multiple of 8 bytes, so that it can be viewed in place.
            parts += [b"\0" * (-sum(map(len, parts)) % 8), np.ascontiguousarray(array).tobytes()]
        return b"".join(parts)


def unpack_rows(data: bytes) -> Rows:
    """Return the rows packed in a file; their arrays are views of its bytes, not copies.

    Raises: ValueError or KeyError for other bytes.
    """
    place = data.index(b"\n") + 1
    head = json.loads(data[:place])
    arrays: dict[str, Any] = {}
    for name, kind, shape in head["arrays"]:
        place += -place % 8
        count = math.prod(shape)
        arrays[name] = (
            np.frombuffer(data, kind, count, place).reshape(shape) if count else np.empty(shape, kind)
        )
        place += arrays[name].nbytes
    return Rows(
        texts=head["texts"],
        coded={name: CategoricalColumn(head["names"][name], arrays[f"code_{name}"]) for name in CODED},
        numbers={name: arrays[name] for name in NUMBERS},
        cause_keys=head["cause_keys"],
        word_names=head["word_names"],
        words=Ragged(arrays["words"], arrays["word_ends"]),
        notes=Ragged(arrays["notes"], arrays["note_ends"]),
        vectors=arrays.get("vectors"),
    )


def rows_of(notes: Sequence[NoteRow], vectors: npt.NDArray[np.float16] | None = None) -> Rows:
    """Return the rows of notes in their order."""
    words = code_texts([word for note in notes for word in sorted(note.words)])
    stored = [note.stored for note in notes]
    return Rows(
        texts={name: [note.texts[name] for note in notes] for name in TEXTS},
        coded={name: code_texts([note.coded[name] for note in notes]) for name in CODED},
        numbers={
            name: np.array([note.numbers[name] for note in notes], kind) for name, kind in NUMBERS.items()
        },
        cause_keys={note.coded["cause"]: note.cause_key for note in notes if note.coded["cause"]},
        word_names=words.names,
        words=_ragged(words.codes, [len(note.words) for note in notes]),
        notes=_ragged(np.frombuffer(b"".join(stored), np.uint8), list(map(len, stored))),
        vectors=vectors,
    )


def _ragged(values: Array, sizes: Sequence[int] | IntArray) -> Ragged:
    return Ragged(values, np.cumsum(sizes, dtype=np.int64))


def join_rows(parts: Sequence[Rows]) -> Rows:
    """Join the rows of one or more segments in their order."""
    words = [CategoricalColumn(part.word_names, part.words.values.astype(np.int32)) for part in parts]
    joined = join_coded(words)
    codes = joined.codes.astype(np.min_scalar_type(len(joined.names)))
    vectors = [part.vectors for part in parts if part.vectors is not None]
    return Rows(
        texts={name: [text for part in parts for text in part.texts[name]] for name in TEXTS},
        coded={name: join_coded([part.coded[name] for part in parts]) for name in CODED},
        numbers={name: np.concatenate([part.numbers[name] for part in parts]) for name in NUMBERS},
        cause_keys={spelled: key for part in parts for spelled, key in part.cause_keys.items()},
        word_names=joined.names,
        words=Ragged(codes, join_ragged([part.words for part in parts]).ends),
        notes=join_ragged([part.notes for part in parts]),
        vectors=np.concatenate(vectors) if len(vectors) == len(parts) else None,
    )
