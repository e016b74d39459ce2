"""How alike past cases are to a complaint, in words and in meaning, on one scale."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Self

import numpy as np

from search.reading.reading import WeightedTerm
from search.scoring.bm25f import Collection, idf
from search.stats.arrays import BoolArray, FloatArray

# Above _MANY rows only the _FEW chief directions are kept, as reading all columns takes the time. Chosen by
# us: on two labelled lists and the demo's history 48 of 256 lose nothing; 32 lose .008 of the log loss.
_MANY, _FEW = 20_000, 48
_CHUNK = 8_192
_NEW_SHARE = 0.02  # share of new rows up to which the mean and directions still hold; chosen by us


def word_similarity(terms: Sequence[WeightedTerm], collection: Collection) -> FloatArray:
    """Return each document's BM25F score as a share of the most any document could have; (size,), 0 to 1."""
    total = sum(term.weight * idf(collection.documents, collection.containing(term.term)) for term in terms)
    shares: FloatArray = np.minimum(collection.scores(terms) / np.float32(max(total, 1e-30)), np.float32(1))
    return shares


@dataclass(frozen=True, kw_only=True, eq=False)
class MeaningSpace:
    """Hold the meaning vectors of past cases, less their mean.

    parts: unit vectors, (rows, width) each, a part for each segment, so that a save changes only new ones.
    blocks: the same centred and shortened, (rows, few) float32, rows of length 1 (0 for a row without words).
    middle: (width,) the mean taken off. axes: (width, few) the chief directions; None where all columns are
    kept. measured: number of rows when middle and axes were worked out.
    """

    parts: Sequence[FloatArray]
    blocks: Sequence[FloatArray]
    middle: FloatArray
    axes: FloatArray | None
    measured: int

    @classmethod
    def of(cls, parts: Sequence[FloatArray], usable: BoolArray, *, before: Self | None = None) -> Self:
        """Centre unit vectors on the mean of the usable rows; of very many keep only the chief directions.

        before: the space of an earlier state, extended if there are very many rows and few are new.
        """
        if before is not None and before.axes is not None:
            same = list(takewhile(lambda pair: pair[0] is pair[1], zip(parts, before.parts, strict=False)))
            shared = sum(len(part) for part, _ in same)
            if len(usable) - min(shared, before.measured) <= _NEW_SHARE * before.measured:
                fresh = [_centred(part, before.middle, before.axes) for part in parts[len(same) :]]
                return replace(before, parts=parts, blocks=[*before.blocks[: len(same)], *fresh])
        own = np.split(usable, np.cumsum([len(part) for part in parts])[:-1])
        stride = max(1, np.count_nonzero(usable) // _MANY)
        rows = [part[np.flatnonzero(mask)[::stride]] for part, mask in zip(parts, own, strict=True)]
        some = np.concatenate(rows).astype(np.float32)
        some = some[some.any(axis=1)]
        middle = (some.sum(axis=0, dtype=np.float64) / max(1, len(some))).astype(np.float32)
        axes = None
        if len(usable) > _MANY:
            some -= middle
            axes = np.linalg.eigh((some.T @ some).astype(np.float64))[1][:, -_FEW:].astype(np.float32)
        blocks = [_centred(part, middle, axes) for part in parts]
        return cls(parts=parts, blocks=blocks, middle=middle, axes=axes, measured=len(usable))

    def cosine_similarity(self, vector: FloatArray) -> FloatArray:
        """Return the cosine of a complaint's vector with every past case; (size,)."""
        asked = _centred(vector[None, :], self.middle, self.axes)[0]
        return np.concatenate([block @ asked for block in self.blocks])


def _centred(vectors: FloatArray, middle: FloatArray, axes: FloatArray | None) -> FloatArray:
    width = len(middle) if axes is None else axes.shape[1]
    out = np.zeros((len(vectors), width), np.float32, order="F")  # multiplies a third faster
    for start in range(0, len(vectors), _CHUNK):
        rows = vectors[start : start + _CHUNK].astype(np.float32)
        turned: FloatArray = rows - middle if axes is None else rows @ axes - middle @ axes
        turned[~rows.any(axis=1)] = 0
        length = np.linalg.norm(turned, axis=1, keepdims=True)
        out[start : start + _CHUNK] = turned / np.where(length > 0, length, np.float32(1))
    return out
