"""How alike past cases are to a complaint, in words and in meaning, on one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from search.reading.reading import WeightedTerm
from search.scoring.bm25f import Collection, idf
from search.scoring.features import class_sums
from search.stats.arrays import BoolArray, FloatArray, IntArray

# Of more rows only the chief directions are kept: reading them all is what takes the time. Chosen by us.
_MANY, _FEW = 20_000, 96
_CHUNK = 8_192
_NEW_SHARE = 0.02  # of rows since the middle was taken, up to which it still holds; chosen by us
ENOUGH_WORDS = 4.0  # rare words that leave little open; chosen by us


def similarity_and_informativeness(
    terms: Sequence[WeightedTerm], collection: Collection
) -> tuple[FloatArray, float]:
    """Return how alike each document is in words, and how informative the terms that occur are.

    Returns:
        Each document's BM25F score as a share of the most any document could have, (size,), 0 to 1; zeros
        where no term occurs. And the most score that known words could have, as a share of what ENOUGH_WORDS
        words of a single case each would have: 0 for nothing, 1 for plenty.
    """
    documents, total, occurring = collection.documents, 0.0, 0.0
    for term in terms:
        containing = collection.of(term.term).in_one_field
        most = term.weight * idf(documents, containing)
        total += most
        occurring += most if containing else 0.0
    scores = collection.scores(terms)
    if total <= 0:
        return np.zeros_like(scores), 0.0
    shares: FloatArray = np.minimum(scores / np.float32(total), np.float32(1.0))
    return shares, min(1.0, occurring / (ENOUGH_WORDS * float(np.log(max(documents, 2)))))


@dataclass(frozen=True, kw_only=True, eq=False)
class MeaningSpace:
    """Hold the meaning vectors of past cases, less what all of them share.

    vectors: (size, few) float32, rows of length 1 (0 for a row without words). middle: (width,) what was
    taken off each. axes: (width, few) what they were turned by; None where nothing was left out. measured:
    number of rows when those two were worked out.
    """

    vectors: FloatArray
    middle: FloatArray
    axes: FloatArray | None = None
    measured: int = 0
    _sums: list[tuple[IntArray, FloatArray]] = field(default_factory=list, repr=False)  # of classes, kept

    @classmethod
    def of(
        cls, vectors: FloatArray, usable: BoolArray, *, before: MeaningSpace | None = None, shared: int = 0
    ) -> MeaningSpace:
        """Centre unit vectors on the mean of the usable rows; of very many keep the chief directions only.

        before: the space of an earlier state, with which that many leading rows are shared; where there are
        very many and few others, it is extended.
        """
        if before is not None and before.axes is not None:
            others = len(vectors) - min(shared, before.measured)
            if others <= _NEW_SHARE * before.measured:
                return before._extended(vectors, shared)
        filled = np.flatnonzero(usable & np.any(vectors != 0, axis=1))
        if not len(filled):
            return cls(
                vectors=np.zeros(vectors.shape, np.float32), middle=np.zeros(vectors.shape[1], np.float32)
            )
        middle = vectors[filled].mean(axis=0, dtype=np.float64).astype(np.float32)
        axes = None
        if len(vectors) > _MANY:
            some = vectors[filled[:: max(1, len(filled) // _MANY)]].astype(np.float64) - middle
            axes = np.linalg.eigh(some.T @ some)[1][:, -_FEW:].astype(np.float32)
        return cls(vectors=_centred(vectors, middle, axes), middle=middle, axes=axes, measured=len(vectors))

    def _extended(self, vectors: FloatArray, shared: int) -> MeaningSpace:
        """Return the space of a state which shares some leading rows with this one."""
        rows: FloatArray = np.concatenate(
            [self.vectors[:shared], _centred(vectors[shared:], self.middle, self.axes)]
        )
        kept: list[tuple[IntArray, FloatArray]] = [
            (classes[:shared], sums - _class_sums(self.vectors[shared:], classes[shared:], len(sums)))
            for classes, sums in self._sums
        ]
        return replace(self, vectors=rows, _sums=kept)

    def cosine_similarity(self, vector: FloatArray, others: FloatArray | None = None) -> FloatArray:
        """Return the cosine of a complaint's vector with every past case, (size,), negative ones as 0.

        others: with these rows of this space instead, (n, few).
        """
        asked = _centred(vector[None, :], self.middle, self.axes)[0]
        cosines: FloatArray = np.maximum((self.vectors if others is None else others) @ asked, 0)
        return cosines

    def class_means(self, classes: IntArray, count: int) -> FloatArray:
        """Return the direction of each class's mean, (count, few) of length 1, zeros for an empty class.

        classes: (size,), -1 for rows that count for none.
        """
        sums = self._sums_from_before(classes, count)
        if sums is None:
            sums = _class_sums(self.vectors, classes, count)
        self._sums[:] = [(classes, sums)]
        length = np.linalg.norm(sums, axis=1, keepdims=True)
        means: FloatArray = (sums / np.where(length > 0, length, 1)).astype(np.float32)
        return means

    def _sums_from_before(self, classes: IntArray, count: int) -> FloatArray | None:
        """Return the classes' sums from those kept, where few rows have moved to another class since then."""
        if not self._sums:
            return None
        known, sums = self._sums[0]
        old = np.full(len(classes), -1)
        old[: len(known)] = known
        now = np.full(len(sums) + 1, -1)  # the number each old class has now; the last: of no class
        there = (old >= 0) & (classes >= 0)
        now[old[there]] = classes[there]
        moved = np.flatnonzero(now[old] != classes)
        if len(moved) > _NEW_SHARE * len(classes):
            return None
        found = now[:-1] >= 0
        out = _class_sums(self.vectors[moved], classes[moved], count)
        out -= _class_sums(self.vectors[moved], now[old[moved]], count)
        np.add.at(out, now[:-1][found], sums[found])
        return out


def _class_sums(rows: FloatArray, classes: IntArray, count: int) -> FloatArray:
    counted = np.flatnonzero(classes >= 0)
    return class_sums(rows[counted], classes[counted], count)


def _centred(vectors: FloatArray, middle: FloatArray, axes: FloatArray | None) -> FloatArray:
    width = len(middle) if axes is None else axes.shape[1]
    out = np.zeros((len(vectors), width), np.float32)
    for start in range(0, len(vectors), _CHUNK):
        rows = vectors[start : start + _CHUNK].astype(np.float32)
        empty = ~np.any(rows != 0, axis=1)
        rows -= middle
        rows[empty] = 0
        turned: FloatArray = rows if axes is None else rows @ axes
        length = np.linalg.norm(turned, axis=1, keepdims=True)
        out[start : start + _CHUNK] = turned / np.where(length > 0, length, np.float32(1))
    return out
