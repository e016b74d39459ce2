"""Turn texts into rows of numbers whose inner products say how alike two complaints are.

One row = [words, pairs of words, trade ideas | meaning], each part of fixed share, the whole
of a length near 1. The word parts are hashed (Weinberger and others 2009, Feature Hashing; from memory), so a
row depends on its own text alone: nothing has to be made anew when a note is added.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import chain, pairwise
from zlib import crc32

import numpy as np

from search.reading.complaint import Reading
from search.reading.text import is_stop_word
from search.reading.vectors import Meaning
from search.stats.arrays import FloatArray, IntArray

# Shares of the squared length. Chosen by us on two labelled sets, where anything near does as well
# (tests/search/test_features.py notices when a part is lost).
_MEANING_SHARE = 0.55
_PART_SHARES = {"words": 0.5, "pairs": 0.3, "ideas": 0.2}
_STOP_WORD_WEIGHT = 0.3  # "not" and "on" say a little, "the" next to nothing; in pairs they count fully
_EDGE = "\x02"
_CHUNK_CELLS = 4_000_000  # cells worked on at a time, 32 MB

SMALL_COLLECTION = 1_500  # rows up to which an eigendecomposition of rows by rows takes a second at most

Part = tuple[Sequence[int], Sequence[float]]


def sketch_width(rows: int) -> int:
    """Return how many hash buckets suit a collection: fewer collisions when small, less memory when large."""
    if rows <= SMALL_COLLECTION:
        return 4096
    return 1024 if rows <= 20_000 else 512


def feature_rows(
    readings: Sequence[Reading], *, width: int, meaning: Meaning | None, vectors: FloatArray | None = None
) -> FloatArray:
    """Return one row a reading: shape (len(readings), width [+ meaning.width]), float32.

    width: hash buckets for the word parts. meaning: None for words alone. vectors: the texts' meaning vectors
    where they are at hand already, shape (len(readings), meaning.width). Rows of like texts have an inner
    product near 1; a text with no words at all gives a row of zeros.
    """
    sketch = _sketch(readings, width)
    if meaning is None:
        return sketch
    if vectors is None:
        vectors = meaning.vectors([reading.evidence_text for reading in readings])
    rows = np.empty((len(readings), width + vectors.shape[1]), np.float32)
    rows[:, :width] = sketch * np.float32((1 - _MEANING_SHARE) ** 0.5)
    rows[:, width:] = vectors * np.float32(_MEANING_SHARE**0.5)
    return rows


def _sketch(readings: Sequence[Reading], width: int) -> FloatArray:
    out = np.zeros((len(readings), width), np.float32)
    step = max(1, _CHUNK_CELLS // width)
    for start in range(0, len(readings), step):
        read = [_parts(reading) for reading in readings[start : start + step]]
        for part, share in _PART_SHARES.items():
            _add_part(out[start : start + step], [parts[part] for parts in read], share)
    return out


def _add_part(out: FloatArray, parts: Sequence[Part], share: float) -> None:
    """Add one part of every text, brought to a squared length of share; out: (len(parts), width)."""
    rows, width = out.shape
    sizes = [len(hashes) for hashes, _ in parts]
    cells = np.array(list(chain.from_iterable(hashes for hashes, _ in parts)), np.int64) % width
    weights = np.array(list(chain.from_iterable(weights for _, weights in parts)), np.float64)
    cells += np.repeat(np.arange(rows), sizes) * width
    filled, at = np.unique(cells, return_inverse=True)
    values = np.bincount(at, weights=weights, minlength=len(filled))
    row_of = filled // width
    length = np.sqrt(np.bincount(row_of, weights=values**2, minlength=rows))
    out.reshape(-1)[filled] += (values * share**0.5 / np.where(length > 0, length, 1)[row_of]).astype(
        np.float32
    )


def _parts(reading: Reading) -> dict[str, Part]:
    stems = [token.stem for token in reading.tokens]
    weights = [_STOP_WORD_WEIGHT if is_stop_word(token.text) else 1.0 for token in reading.tokens]
    pairs = [_hash(f"{left} {right}") for left, right in pairwise([_EDGE, *stems, _EDGE])] if stems else []
    ideas = sorted(set(reading.concepts))
    return {
        "words": ([_hash(stem) for stem in stems], weights),
        "pairs": (pairs, [1.0] * len(pairs)),
        "ideas": ([_hash(f"={idea}") for idea in ideas], [1.0] * len(ideas)),
    }


@lru_cache(maxsize=200_000)
def _hash(term: str) -> int:
    return crc32(term.encode("utf-8"))


def thin_rows(rows: FloatArray) -> tuple[FloatArray, FloatArray | None]:
    """Return rows with fewer columns but the same inner products, and the matrix that makes new rows so.

    rows: (n, width). Where n < width: (n, r) with r <= n, and (width, r); else the rows themselves and None.
    """
    if rows.shape[0] >= rows.shape[1]:
        return rows, None
    gram = rows.astype(np.float64) @ rows.T.astype(np.float64)
    values, axes = np.linalg.eigh(gram)
    keep = values > max(values[-1], 0) * 1e-5
    if not keep.any():
        return rows[:, :1] * 0, np.zeros((rows.shape[1], 1), np.float32)
    root = np.sqrt(values[keep])
    # Signs of eigenvectors are arbitrary; products of two thinned rows do not depend on them.
    return (axes[:, keep] * root).astype(np.float32), (rows.T @ (axes[:, keep] / root)).astype(np.float32)


def class_sums(rows: FloatArray, classes: IntArray, count: int) -> FloatArray:
    """Return the sum of the rows of each class; shape (count, width), float64; empty classes are zeros."""
    columns = [np.bincount(classes, weights=column, minlength=count) for column in rows.T]
    # Of no rows bincount counts in whole numbers.
    return np.stack(columns, axis=1).astype(np.float64, copy=False)
