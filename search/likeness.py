"""How alike past cases are to a complaint, in words and in meaning, on one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from search.arrays import BoolArray, FloatArray
from search.postings import PostingSource
from search.ranking import FIELDS, QueryTerm, bm25f, idf

_MEANING_SHARE = 0.5  # chosen by us: measured best or near it on two labelled sets (DEVELOPERS.md)


def word_likeness(terms: Sequence[QueryTerm], source: PostingSource, mask: BoolArray) -> FloatArray:
    """Return each document's BM25F score as a share of the most any document could have; (size,), 0 to 1.

    terms: of the complaint. mask: (size,) the documents that may be used. A complaint without a term that
    occurs gives zeros.
    """
    bound = _most_possible(terms, source, mask)
    if bound <= 0:
        return np.zeros(source.size, np.float32)
    shares: FloatArray = np.minimum(bm25f(terms, source, mask=mask) / np.float32(bound), np.float32(1.0))
    return shares


def _most_possible(terms: Sequence[QueryTerm], source: PostingSource, mask: BoolArray) -> float:
    documents = int(np.count_nonzero(mask))
    total = 0.0
    for term in terms:
        containing = max(
            int(np.count_nonzero(mask[source.postings(field, term.term)[0]])) for field in FIELDS
        )
        total += term.weight * idf(documents, containing)
    return total


@dataclass(frozen=True, kw_only=True, eq=False)
class MeaningSpace:
    """Hold the meaning vectors of past cases, less what all of them share.

    vectors: (size, width) float32, rows of length 1 (0 for a row without words). middle: (width,) what was
    taken off each.
    """

    vectors: FloatArray
    middle: FloatArray

    @classmethod
    def of(cls, vectors: FloatArray, usable: BoolArray) -> MeaningSpace:
        """Centre unit vectors on the mean of the usable rows."""
        rows = vectors.astype(np.float32)
        filled = usable & (np.abs(rows).sum(axis=1) > 0)
        middle = rows[filled].mean(axis=0) if filled.any() else np.zeros(rows.shape[1], np.float32)
        return cls(vectors=_centred(rows, middle), middle=middle)

    def likeness(self, vector: FloatArray) -> FloatArray:
        """Return the cosine of every past case with a complaint's vector, (size,), negative ones as 0."""
        asked = _centred(vector[None, :].astype(np.float32), self.middle)[0]
        cosines: FloatArray = np.maximum(self.vectors @ asked, np.float32(0.0))
        return cosines

    @cached_property
    def width(self) -> int:
        """Return the number of components."""
        return int(self.vectors.shape[1])


def _centred(rows: FloatArray, middle: FloatArray) -> FloatArray:
    empty = np.abs(rows).sum(axis=1) == 0
    moved = rows - middle
    moved[empty] = 0
    length = np.linalg.norm(moved, axis=1, keepdims=True)
    scaled: FloatArray = moved / np.where(length > 0, length, 1)
    return scaled


def join_likeness(words: FloatArray, meaning: FloatArray | None) -> FloatArray:
    """Return words and meaning on one scale, 0 to 1; words alone where there is no meaning."""
    if meaning is None:
        return words
    joined: FloatArray = (1 - _MEANING_SHARE) * words + _MEANING_SHARE * meaning
    return joined
