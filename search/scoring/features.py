"""Turn texts into rows of numbers whose inner products say how alike two complaints are.

One row = [words, pairs of words, trade ideas | static vector | sentence vector], each part of a fixed number
of columns. Without the sentence vector a row has a length near 1. The word parts are hashed (Weinberger and
others 2009, Feature Hashing; from memory), so a row depends on its own text alone: nothing has to be made
anew when a note is added.
"""

from collections.abc import Sequence
from itertools import pairwise
from zlib import crc32

import numpy as np

from search.reading.complaint import Reading
from search.reading.sentences import SentenceModel
from search.reading.text import is_stop_word
from search.reading.vectors import Meaning
from search.stats.arrays import FloatArray

# Shares of the squared length. Chosen by us on two labelled sets, where anything near does as well
# (tests/search/scoring/test_features.py notices when a part is lost).
MEANING_LENGTH = np.float32(0.55**0.5)
SENTENCE_LENGTH = np.float32(2.2**0.5)  # beside 1 for all the rest
_PIECES = 0.3  # of words: they forgive spelling and endings where there is no meaning to do it
_WORDS, _PAIRS, _IDEAS = 0.5, 0.3, 0.2  # of what is left
_STOP_WORD_WEIGHT = 0.3  # "not" and "on" say a little, "the" next to nothing; in pairs they count fully
_EDGE = "\x02"

SMALL_COLLECTION = 1_500  # rows up to which taking rows apart into fewer columns takes a second or two


def sketch_width(rows: int) -> int:
    """Return how many hash buckets suit a collection: fewer collisions when small, less memory when large."""
    if rows <= SMALL_COLLECTION:
        return 4096
    return 1024 if rows <= 20_000 else 512


def feature_rows(
    readings: Sequence[Reading],
    *,
    width: int,
    meaning: Meaning | None,
    sentences: SentenceModel | None = None,
) -> FloatArray:
    """Return one row a reading: shape (len(readings), width [+ static] [+ sentence vector]), float32.

    width: hash buckets for the word parts. meaning: None for words alone. sentences: None for no sentence
    vectors. Without those, rows of like texts have an inner product near 1; a text with no words at all gives
    a row of zeros.
    """
    rest = 1.0 if meaning else 1 - _PIECES
    sketch = np.array([_sketch(reading, width, rest) for reading in readings], np.float32).reshape(-1, width)
    if meaning is None:
        return sketch
    texts = [reading.evidence_text for reading in readings]
    parts = [sketch * np.float32((1 - MEANING_LENGTH**2) ** 0.5), meaning.vectors(texts) * MEANING_LENGTH]
    if sentences is not None:
        parts.append(sentences.vectors(texts) * SENTENCE_LENGTH)
    return np.hstack(parts)


def _sketch(reading: Reading, width: int, rest: float) -> FloatArray:
    """Return the word parts of one text, each brought to its share of the squared length; (width,).

    rest: the share of all but pieces of words.
    """
    stems = [token.stem for token in reading.tokens]
    weights = [_STOP_WORD_WEIGHT if is_stop_word(token.text) else 1.0 for token in reading.tokens]
    pairs = [f"{left} {right}" for left, right in pairwise([_EDGE, *stems, _EDGE])] if stems else []
    ideas = [f"={idea}" for idea in sorted(set(reading.concepts))]
    words = [f"{_EDGE}{stem}{_EDGE}" for stem in stems if rest < 1]
    places = [
        (word, at, at + size) for word in words for size in (3, 4) for at in range(len(word) - size + 1)
    ]
    pieces = [f"~{word[start:end]}" for word, start, end in places]
    parts = [(_WORDS * rest, stems, weights), (_PAIRS * rest, pairs, None), (_IDEAS * rest, ideas, None)]
    parts.append((1 - rest, pieces, None))
    row = np.zeros(width)
    for share, terms, told in parts:
        if terms:
            part = np.bincount([crc32(term.encode()) % width for term in terms], told, width)
            row += part * (share / (part @ part)) ** 0.5
    return row
