"""How alike past cases are to a complaint, in words and in meaning, on one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import takewhile

import numpy as np

from search.reading.reading import WeightedTerm
from search.scoring.bm25f import Collection, idf
from search.scoring.features import class_sums
from search.stats.arrays import BoolArray, FloatArray, IntArray

# Of more rows only the chief directions are kept: reading them all is what takes the time. Chosen by us.
_MANY, _FEW = 20_000, 96
_CHUNK = 8_192
_NEW_SHARE = 0.02  # of rows since the middle was taken, up to which it still holds; chosen by us


def word_similarity(terms: Sequence[WeightedTerm], collection: Collection) -> FloatArray:
    """Return each document's BM25F score as a share of the most any document could have; (size,), 0 to 1."""
    total = sum(
        term.weight * idf(collection.documents, collection.of(term.term).in_one_field) for term in terms
    )
    if total <= 0:
        return collection.scores([])
    shares: FloatArray = np.minimum(collection.scores(terms) / np.float32(total), np.float32(1.0))
    return shares


@dataclass(frozen=True, kw_only=True, eq=False)
class MeaningSpace:
    """Hold the meaning vectors of past cases, less what all of them share.

    They lie in parts, one below the other, so that a save costs nothing for the parts that stay.

    parts: unit vectors, (rows, width) each. blocks: what was made of each part, (rows, few) float32, rows of
    length 1 (0 for a row without words). middle: (width,) what was taken off each. axes: (width, few) what
    they were turned by; None where nothing was left out. measured: number of rows when those two were worked
    out.
    """

    parts: Sequence[FloatArray]
    blocks: Sequence[FloatArray]
    middle: FloatArray
    axes: FloatArray | None
    measured: int
    _sums: list[tuple[IntArray, FloatArray]] = field(default_factory=list, repr=False)  # of classes, kept

    @classmethod
    def of(
        cls, parts: Sequence[FloatArray], usable: BoolArray, *, before: MeaningSpace | None = None
    ) -> MeaningSpace:
        """Centre unit vectors on the mean of the usable rows; of very many keep the chief directions only.

        before: the space of an earlier state; where there are very many rows and few new ones, it is
        extended.
        """
        if before is not None and before.axes is not None:
            same = list(takewhile(lambda pair: pair[0] is pair[1], zip(parts, before.parts, strict=False)))
            shared = sum(len(part) for part, _ in same)
            if len(usable) - min(shared, before.measured) <= _NEW_SHARE * before.measured:
                return before._extended(parts, len(same), shared)
        rows = np.flatnonzero(usable)
        some = _taken(parts, rows[:: max(1, len(rows) // _MANY)]).astype(np.float32)
        some = some[some.any(axis=1)]
        middle = (some.sum(axis=0, dtype=np.float64) / max(1, len(some))).astype(np.float32)
        axes = None
        if len(usable) > _MANY:
            some -= middle
            axes = np.linalg.eigh((some.T @ some).astype(np.float64))[1][:, -_FEW:].astype(np.float32)
        blocks = [_centred(part, middle, axes) for part in parts]
        return cls(parts=parts, blocks=blocks, middle=middle, axes=axes, measured=len(usable))

    def _extended(self, parts: Sequence[FloatArray], same: int, shared: int) -> MeaningSpace:
        """Return the space of a state that has the same leading parts, which have `shared` rows."""
        fresh = [_centred(part, self.middle, self.axes) for part in parts[same:]]
        kept: list[tuple[IntArray, FloatArray]] = [
            (
                classes[:shared],
                sums - self._class_sums(np.arange(shared, len(classes)), classes[shared:], len(sums)),
            )
            for classes, sums in self._sums
        ]
        return replace(self, parts=parts, blocks=[*self.blocks[:same], *fresh], _sums=kept)

    def cosine_similarity(self, vector: FloatArray, others: FloatArray | None = None) -> FloatArray:
        """Return the cosine of a complaint's vector with every past case, (size,), negative ones as 0.

        others: with these rows of this space instead, (n, few).
        """
        asked = _centred(vector[None, :], self.middle, self.axes)[0]
        blocks = self.blocks if others is None else [others]
        cosines: FloatArray = np.maximum(np.concatenate([block @ asked for block in blocks]), 0)
        return cosines

    def class_means(self, classes: IntArray, count: int) -> FloatArray:
        """Return the direction of each class's mean, (count, few) of length 1, zeros for an empty class.

        classes: (size,), -1 for rows that count for none.
        """
        sums = self._sums_from_before(classes, count)
        if sums is None:
            sums = self._all_class_sums(classes, count)
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
        out = self._class_sums(moved, classes[moved], count)
        out -= self._class_sums(moved, now[old[moved]], count)
        np.add.at(out, now[:-1][found], sums[found])
        return out

    def _all_class_sums(self, classes: IntArray, count: int) -> FloatArray:
        """Return the sum of each class over all rows, part by part: a copy of them would take far longer."""
        numbered = np.where(classes < 0, count, classes)
        owns = np.split(numbered, np.cumsum([len(block) for block in self.blocks])[:-1])
        sums: FloatArray = np.sum(
            [class_sums(block, own, count + 1) for block, own in zip(self.blocks, owns, strict=True)], axis=0
        )
        return sums[:-1]

    def _class_sums(self, rows: IntArray, classes: IntArray, count: int) -> FloatArray:
        """Return the sum of some rows, ascending, of each class; classes: that of each row, -1 for none."""
        counted = classes >= 0
        return class_sums(_taken(self.blocks, rows[counted]), classes[counted], count)


def _taken(parts: Sequence[FloatArray], rows: IntArray) -> FloatArray:
    """Return some rows, ascending, of arrays that lie one below the other."""
    starts = np.cumsum([0, *map(len, parts)])
    each = zip(parts, starts, np.split(rows, np.searchsorted(rows, starts[1:-1])), strict=False)
    return np.concatenate([part[own - start] for part, start, own in each])


def _centred(vectors: FloatArray, middle: FloatArray, axes: FloatArray | None) -> FloatArray:
    width = len(middle) if axes is None else axes.shape[1]
    out = np.zeros((len(vectors), width), np.float32)
    for start in range(0, len(vectors), _CHUNK):
        rows = vectors[start : start + _CHUNK].astype(np.float32)
        turned: FloatArray = rows - middle if axes is None else rows @ axes - middle @ axes
        turned[~rows.any(axis=1)] = 0
        length = np.linalg.norm(turned, axis=1, keepdims=True)
        out[start : start + _CHUNK] = turned / np.where(length > 0, length, np.float32(1))
    return out
