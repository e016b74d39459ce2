"""One state of the index. It stays the same while the notebook changes."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from search.index.case_table import CaseTable
from search.index.codec import Posting
from search.index.integrity import digest_of
from search.index.postings import BlockPostings, ListKey, PostingCache, PostingSource
from search.index.rows import FIELDS
from search.index.segments import Segments
from search.reading.spelling import Lexicon


@dataclass(frozen=True, kw_only=True)
class RefreshReport:
    """Count what a refresh found. rebuilt: the whole index was built from the notes."""

    added: int = 0
    changed: int = 0
    removed: int = 0
    rebuilt: bool = False

    def __bool__(self) -> bool:
        """Tell whether anything was found."""
        return self.rebuilt or bool(self.added + self.changed + self.removed)


@dataclass(frozen=True)
class Snapshot:
    """Hold one state: its posting lists (source), columns (table), and a generation of its own."""

    source: PostingSource
    table: CaseTable
    generation: str
    segments: Segments

    @cached_property
    def lexicon(self) -> Lexicon:
        """Return the words of all notes as written, and how many notes have each."""
        found: Counter[str] = Counter()
        for _, rows, alive in self.segments.parts:
            counts = rows.word_counts
            if not alive.all():
                counts = counts - np.bincount(rows.words.take(~alive).values, minlength=len(counts))
            found.update(dict(zip(rows.word_names, counts.tolist(), strict=True)))
        return Lexicon(found)

    @property
    def vectors(self) -> Sequence[npt.NDArray[np.float16]] | None:
        """Return the meaning vectors of each segment, (rows, width), or None without the extra [meaning]."""
        parts = [rows.vectors for _, rows, _ in self.segments.parts]
        held = [part for part in parts if part is not None]
        return held if held and len(held) == len(parts) else None


def snapshot_of(
    segments: Segments, facts: Mapping[str, Any], cache_mb: float, lists: PostingCache[ListKey, Posting]
) -> Snapshot:
    """Return the state of an index to answer from.

    facts: what the index was built from. cache_mb: most memory for posting lists. lists: those read for
    earlier states.
    """
    names, rows, alive = zip(*segments.parts, strict=True) if segments.parts else ((), (), ())
    table = CaseTable(rows, np.concatenate([np.ones(0, np.bool_), *alive]))
    lengths = {field: table.numbers(f"length_{field}") for field in FIELDS}
    generation = digest_of(repr((names, np.packbits(table.alive).tobytes(), facts)).encode())
    source = BlockPostings(segments.reader(), lengths, cache_mb, lists)
    return Snapshot(source, table, generation, segments)
