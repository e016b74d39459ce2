"""Score documents for a weighted set of terms (BM25F), and take the best of them.

All scorers take and return arrays. Source of the formula: Robertson and Zaragoza 2009, The Probabilistic
Relevance Framework: BM25 and Beyond (from memory): fields are weighted and length-normalised first, then
saturated once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from types import MappingProxyType
from typing import Protocol

import numpy as np

from search.index.postings import NOTHING, Posting, PostingSource, mean_under
from search.stats.arrays import BoolArray, FloatArray, IntArray

# Chosen by us: a complaint is best met by an earlier complaint; what was found and done helps less.
# tests/search/test_ranking.py notices when a word in a complaint no longer outranks one in a body.
FIELD_WEIGHTS: Mapping[str, float] = MappingProxyType(
    {"complaint": 3.0, "cause": 1.5, "fix": 0.7, "body": 1.0}
)
# Chosen by us about the usual .75 (Robertson and Zaragoza 2009, from memory): short fields vary in length for
# no good reason, so there it counts less.
LENGTH_NORMALISATION: Mapping[str, float] = MappingProxyType(
    {"complaint": 0.5, "cause": 0.3, "fix": 0.5, "body": 0.75}
)
SATURATION = 1.2  # the usual k1, same source


class QueryTerm(Protocol):
    """A term to search and how much it counts, such as search.complaint.WeightedTerm."""

    @property
    def term(self) -> str:
        """The term as it stands in the index."""
        ...

    @property
    def weight(self) -> float:
        """How much the term counts, 1.0 for a plain word."""
        ...


def idf(documents: float, containing: float) -> float:
    """Return the inverse document frequency ln(1 + (N - n + .5) / (n + .5)); never negative."""
    return float(np.log1p((documents - containing + 0.5) / (containing + 0.5)))


def bm25f(
    terms: Sequence[QueryTerm],
    source: PostingSource,
    *,
    mask: BoolArray | None = None,
    weights: Mapping[str, float] = FIELD_WEIGHTS,
    k1: float = SATURATION,
    b: Mapping[str, float] = LENGTH_NORMALISATION,
) -> FloatArray:
    """Return a BM25F score for every document; shape (size,), float32, 0 where no term occurs.

    mask: documents that exist for this query, shape (size,); default: those alive. Document frequencies,
    the number of documents and mean lengths are counted under it, and documents outside it score 0.
    weights: the fields to look in and how much each counts; b: length normalisation of each field, 0 to 1
    (0 when left out); k1: saturation, above 0. A term's document frequency counts documents that have it
    in any field. A term given twice counts twice.
    """
    scores = np.zeros(source.size, np.float32)
    collection = _Collection(source, mask, weights, k1, b)
    if collection.documents:
        for term in terms:
            # A list worked out for every document alive serves the next query too.
            numbers, shares = (
                source.derived.fetch((term.term, *collection.settings), partial(collection.shares, term.term))
                if mask is None
                else collection.shares(term.term)
            )
            scores[numbers] += shares * np.float32(term.weight)
    return scores


class _Collection:
    """Work out BM25F term by term for one set of documents."""

    def __init__(
        self,
        source: PostingSource,
        mask: BoolArray | None,
        weights: Mapping[str, float],
        k1: float,
        b: Mapping[str, float],
    ) -> None:
        under = source.alive if mask is None else mask
        self.documents = int(np.count_nonzero(under))
        self.settings = (k1, *((field, weight, b.get(field, 0.0)) for field, weight in weights.items()))
        self._source = source
        self._under = None if self.documents == source.size else under
        self._k1 = np.float32(k1)
        self._fields = [
            (
                field,
                np.float32(weight),
                b.get(field, 0.0),
                source.mean_length(field) if mask is None else mean_under(source.lengths(field), mask),
            )
            for field, weight in weights.items()
        ]
        self._sums = np.zeros(source.size, np.float32)  # all zeros between terms

    def shares(self, term: str) -> Posting:
        """Return the documents that have a term in any field, each once, and its score in each."""
        parts = [part for field in self._fields if (part := self._normalised(term, field)) is not None]
        if not parts:
            return NOTHING
        if len(parts) == 1:
            numbers, total = parts[0]
        else:
            for numbers, values in parts:
                self._sums[numbers] += values
            found = []
            for numbers, _ in parts:
                # A document met in an earlier field has been taken out of the sums, and is 0 here.
                values = self._sums[numbers]
                self._sums[numbers] = 0.0
                fresh = values > 0
                found.append((numbers[fresh], values[fresh]))
            numbers = np.concatenate([part[0] for part in found])
            total = np.concatenate([part[1] for part in found])
        return numbers, total / (total + self._k1) * np.float32(idf(self.documents, len(numbers)))

    def _normalised(self, term: str, field: tuple[str, np.float32, float, float]) -> Posting | None:
        """Return a term's documents in one field and weight * tf / (1 - b + b * length / mean) of each."""
        name, weight, b, mean = field
        numbers, frequencies = self._source.postings(name, term)
        if self._under is not None and numbers.size:
            keep = self._under[numbers]
            numbers, frequencies = numbers[keep], frequencies[keep]
        if not numbers.size or not weight:
            return None
        if b == 0.0 or mean == 0.0:
            return numbers, frequencies * weight
        ratio = self._source.lengths(name)[numbers] * np.float32(b / mean / weight)
        ratio += np.float32((1.0 - b) / weight)
        return numbers, frequencies / ratio


def top(scores: FloatArray, dates: IntArray, ids: Sequence[str], limit: int) -> IntArray:
    """Return the rows of the highest scores above 0, best first, at most limit of them.

    scores, dates: shape (size,); ids: one a row. Ties: newest date first, then the smaller id.
    """
    rows = np.flatnonzero(scores > 0)
    chosen = _best(rows, scores, limit)
    if len(chosen) > limit:
        chosen = _cut_ties(chosen, scores, dates, limit)
    order = sorted(chosen.tolist(), key=lambda row: (-float(scores[row]), -int(dates[row]), ids[row]))
    return np.array(order[: max(limit, 0)], np.int64)


def _best(rows: IntArray, keys: FloatArray | IntArray, limit: int) -> IntArray:
    """Return the rows whose key is among the limit highest, with every row that ties with the last."""
    if limit <= 0:
        return rows[:0]
    if len(rows) <= limit:
        return rows
    values = keys[rows]
    lowest = np.partition(values, len(rows) - limit)[len(rows) - limit]
    best: IntArray = rows[values >= lowest]
    return best


def _cut_ties(rows: IntArray, scores: FloatArray, dates: IntArray, limit: int) -> IntArray:
    """Leave out rows that tie for the last places by score and are too old to take one."""
    lowest = scores[rows].min()
    above = rows[scores[rows] > lowest]
    tied = rows[scores[rows] == lowest]
    return np.concatenate([above, _best(tied, dates, limit - len(above))])
