"""Score documents for a weighted set of terms (BM25F), and take the best of them.

Source of the formula: Robertson and Zaragoza 2009, The Probabilistic Relevance Framework: BM25 and Beyond
(from memory). Fields are weighted and length-normalised first, then saturated once.
"""

from collections.abc import Mapping, Sequence
from heapq import nsmallest

import numpy as np

from search.index.codec import Posting
from search.index.postings import PostingCache, PostingSource
from search.reading.reading import WeightedTerm
from search.stats.arrays import BoolArray, FloatArray, IntArray

# Chosen by us: earlier complaints match a complaint best; what was found and done helps less
# (tests/search/scoring/test_bm25f.py notices when a word in a body outranks one in a complaint).
FIELD_WEIGHTS: Mapping[str, float] = {"complaint": 3.0, "cause": 1.5, "fix": 0.7, "body": 1.0}
# Chosen by us, near the usual .75 (Robertson and Zaragoza 2009, from memory). The length of short fields
# means little, so there it counts less.
LENGTH_NORMALISATION: Mapping[str, float] = {"complaint": 0.5, "cause": 0.3, "fix": 0.5, "body": 0.75}
SATURATION = 1.2  # the usual k1, same source
_STRETCHES = 8  # of rows for each result wanted, so that few rows are left to sort; chosen by us


def idf(documents: float, containing: float) -> float:
    """Return the inverse document frequency ln(1 + (N - n + .5) / (n + .5)); never negative."""
    return float(np.log1p((documents - containing + 0.5) / (containing + 0.5)))


class Collection:
    """The documents that a query can find. Safe between threads.

    The scores of a term are worked out once, and kept while there is room.
    """

    def __init__(
        self,
        source: PostingSource,
        mask: BoolArray | None = None,
        *,
        weights: Mapping[str, float] = FIELD_WEIGHTS,
        k1: float = SATURATION,
        b: Mapping[str, float] = LENGTH_NORMALISATION,
    ) -> None:
        """Take posting lists, and a mask of documents, (size,), by default those alive.

        Counts and lengths go by these documents; others score 0. weights: of the fields to search. k1:
        saturation, above 0. b: length normalisation of each field, 0 to 1 (0 when left out).
        """
        under = source.alive if mask is None else mask
        self.documents = int(np.count_nonzero(under))
        self._source, self._k1 = source, np.float32(k1)
        self._under = None if self.documents == source.size else under
        count = max(self.documents, 1)
        self._fields = []
        for field, weight in weights.items():
            lengths, own = source.lengths(field), b.get(field, 0.0)
            mean = float(lengths[under].sum(dtype=np.float64)) / count or 1.0  # if no document has the field
            self._fields.append((field, weight, 1 - own + own * lengths / mean))
        self._kept: PostingCache[str, Posting] = PostingCache(source.cache_mb / 2)

    def scores(self, terms: Sequence[WeightedTerm]) -> FloatArray:
        """Return the BM25F score of every document; (size,), float32, 0 where no term occurs.

        A term's document frequency counts the documents that have it in any field.
        """
        scores = np.zeros(self._source.size, np.float32)
        for term in terms:
            documents, own = self.of(term.term)
            np.add.at(scores, documents, own * np.float32(term.weight))  # three times as fast as +=
        return scores

    def of(self, term: str) -> Posting:
        """Return the documents that have a term in any field, and its score in each (float32)."""
        return self._kept.fetch(term, lambda: self._work_out(term))

    def _work_out(self, term: str) -> Posting:
        """Add up weight * tf / (1 - b + b * length / mean) of the fields, and saturate the sum."""
        sums = np.zeros(self._source.size, np.float32)
        for field, weight, norm in self._fields:
            numbers, frequencies = self._source.postings(field, term)
            if self._under is not None:
                keep = self._under[numbers]
                numbers, frequencies = numbers[keep], frequencies[keep]
            np.add.at(sums, numbers, weight * frequencies / norm.take(numbers))
        numbers = np.flatnonzero(sums > 0).astype(np.int32)
        total = sums[numbers]
        return numbers, total / (total + self._k1) * np.float32(idf(self.documents, len(numbers)))


def top(scores: FloatArray, dates: IntArray, ids: Sequence[str], limit: int) -> IntArray:
    """Return at most `limit` rows with scores above 0, the best first.

    scores, dates: (size,). ids: of each row. Ties: newest date first, then the smaller id.
    """
    least, stretch = np.float32(0), len(scores) // (_STRETCHES * limit) if limit else 0
    if stretch > 1:  # the best score of each stretch gives a lower bound for the last result
        best_of_each = np.maximum.reduceat(scores, np.arange(0, len(scores), stretch))
        least = np.partition(best_of_each, -limit)[-limit]
    rows = np.flatnonzero((scores >= least) & (scores > 0))
    best = nsmallest(limit, rows.tolist(), key=lambda row: (-float(scores[row]), -int(dates[row]), ids[row]))
    return np.array(best, np.int64)
