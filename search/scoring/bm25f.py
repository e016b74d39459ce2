"""Score documents for a weighted set of terms (BM25F), and take the best of them.

Source of the formula: Robertson and Zaragoza 2009, The Probabilistic Relevance Framework: BM25 and Beyond
(from memory). Fields are weighted and length-normalised first, then saturated once.
"""

from collections.abc import Mapping, Sequence
from heapq import nsmallest

import numpy as np

from search.index.codec import Posting
from search.index.postings import Part, PostingCache, PostingSource, joined
from search.reading.reading import WeightedTerm
from search.stats.arrays import BoolArray, FloatArray, IntArray

# Chosen by us: earlier complaints match a complaint best; what was found and done helps less
# (tests/search/scoring/test_bm25f.py notices when a word in a body outranks one in a complaint).
FIELD_WEIGHTS: Mapping[str, float] = {"complaint": 3.0, "cause": 1.5, "fix": 0.7, "body": 1.0}
# Chosen by us, near the usual .75 (Robertson and Zaragoza 2009, from memory). The length of short fields
# means little, so there it counts less.
LENGTH_NORMALISATION: Mapping[str, float] = {"complaint": 0.5, "cause": 0.3, "fix": 0.5, "body": 0.75}
SATURATION = 1.2  # the usual k1, same source
# From so many documents on, mean lengths are rounded to three digits. Then a save seldom changes them, and
# what was worked out for each term still holds. Chosen by us.
ROUNDED_FROM = 20_000
_STRETCHES = 8  # of rows for each result wanted, so that few rows are left to sort; chosen by us


def idf(documents: float, containing: float) -> float:
    """Return the inverse document frequency ln(1 + (N - n + .5) / (n + .5)); never negative."""
    return float(np.log1p((documents - containing + 0.5) / (containing + 0.5)))


class Collection:
    """The documents that a query can find. Safe between threads.

    The scores of a term in a segment are worked out once, and kept while there is room.
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
        self._source = source
        self._under = None if self.documents == source.size else under
        count, fields = max(self.documents, 1), []
        for field, weight in weights.items():
            mean = float(source.lengths(field)[under].sum(dtype=np.float64)) / count
            mean = _rounded(mean) if count >= ROUNDED_FROM else mean
            fields.append((field, weight, b.get(field, 0.0), mean or 1.0))  # if no document has the field
        self._settings = k1, tuple(fields)
        self._counts: PostingCache[str, tuple[int]] = PostingCache(source.cache_mb / 24)

    def scores(self, terms: Sequence[WeightedTerm]) -> FloatArray:
        """Return the BM25F score of every document; (size,), float32, 0 where no term occurs.

        A term's document frequency counts the documents that have it in any field.
        """
        scores = np.zeros(self._source.size, np.float32)
        for term in terms:
            worth = np.float32(term.weight * idf(self.documents, self.containing(term.term)))
            for part in self._source.parts:
                documents, own = self._in_part(part, term.term)
                np.add.at(scores[part.start :], documents, own * worth)  # three times as fast as +=
        return scores if self._under is None else scores * self._under

    def having(self, term: str) -> IntArray:
        """Return the documents that have a term in any field, ascending."""
        numbers, _ = joined(self._source.parts, [self._in_part(part, term) for part in self._source.parts])
        return numbers if self._under is None else numbers[self._under[numbers]]

    def containing(self, term: str) -> int:
        """Return how many documents have a term in any field."""
        return self._counts.fetch(term, lambda: (len(self.having(term)),))[0]

    def _in_part(self, part: Part, term: str) -> Posting:
        """Return the documents of a segment that have a term, and its saturated frequency in each, 0 to 1."""
        return self._source.kept.fetch((part.name, self._settings, term), lambda: self._saturated(part, term))

    def _saturated(self, part: Part, term: str) -> Posting:
        """Add up weight * tf / (1 - b + b * length / mean) of the fields, and saturate the sum."""
        k1, fields = self._settings
        sums = np.zeros(part.size, np.float32)
        for field, weight, b, mean in fields:
            numbers, frequencies = part.read(field, term)
            lengths = self._source.lengths(field)[part.start :].take(numbers)
            np.add.at(sums, numbers, weight * frequencies / (1 - b + b * lengths / mean))
        numbers = np.flatnonzero(sums > 0).astype(np.int32)
        total = sums[numbers]
        return numbers, total / (total + np.float32(k1))


def _rounded(mean: float) -> float:
    """Round a mean length to three digits."""
    return float(f"{mean:.3g}")


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
