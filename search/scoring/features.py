"""Turn complaints into rows of numbers whose inner products say how alike two complaints are.

A row is [words, pairs of words, concepts | static vector | sentence vector], each part with a fixed number of
columns. Without the sentence vector its length is near 1. The word parts are hashed (Weinberger and others
2009, Feature Hashing; from memory), so a row depends on its own text alone, and new notes change no other
row.
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

# Shares of the squared length. Chosen by us on two labelled lists, where values nearby do as well
# (tests/search/scoring/test_features.py notices when a part is lost).
MEANING_LENGTH = np.float32(0.55**0.5)
SENTENCE_LENGTH = np.float32(2.2**0.5)  # all other parts together have length 1
_PIECES = 0.3  # pieces of words, used without meaning vectors: they forgive spelling and endings
_WORDS, _PAIRS, _IDEAS = 0.5, 0.3, 0.2  # shares of the rest
_STOP_WORD_WEIGHT = 0.3  # "not" and "on" say a little, "the" next to nothing; in pairs they count fully
_EDGE = "\x02"

SMALL_COLLECTION = 1_500  # rows; up to here History.thinned() takes a second or two


def sketch_width(rows: int) -> int:
    """Return the number of hash buckets: many against collisions, fewer in large collections for memory."""
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
    """Return a row for each reading; (len(readings), width [+ static] [+ sentence vector]), float32.

    width: hash buckets for the word parts. meaning: None for words alone. sentences: None for no sentence
    vectors; then rows of like texts have an inner product near 1. A text without words gives a row of zeros.
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
    """Return the word parts of one text, each scaled to its share of the squared length; (width,).

    rest: the share of all parts but pieces of words.
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
