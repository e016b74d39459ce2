"""Find the words near to a misspelt one, among the words that the notes themselves use."""

from collections.abc import Mapping
from functools import cached_property
from heapq import nsmallest

import numpy as np
from rapidfuzz.distance import OSA, JaroWinkler
from rapidfuzz.process import cdist

from search.reading.text import stem
from search.reading.typos import slip_score

_WEIGHED = 12  # chosen by us: candidates weighed closely; more gained nothing on codespell's pairs


class Lexicon:
    """Hold the words of an index with how often each occurs.

    frequencies: surface words as written, lower case (`text.words_of`), with the number of notes
    or places each occurs in; above 0. Surface words and not stems, because a misspelling is an edit away from
    what people write: "capasitors" is one edit from "capacitors", and its broken ending stems elsewhere.
    """

    def __init__(self, frequencies: Mapping[str, int]) -> None:
        self._frequencies = {word: count for word, count in frequencies.items() if word and count > 0}

    def __len__(self) -> int:
        return len(self._frequencies)

    def knows(self, word: str) -> bool:
        """Return whether a word, or another form of it, occurs."""
        form = stem(word)
        return word in self._frequencies or any(
            stem(other) == form for other in self._by_start.get(word[:3], ())
        )

    def ranked(self, word: str, *, max_edits: int) -> list[tuple[str, int]]:
        """Return other words within some edits, the likeliest first, each with its distance, at most 12.

        The nearest by optimal string alignment and Jaro-Winkler are ordered by how people slip
        (search/reading/typos.py), ties by frequency, then alphabet.
        """
        nearest = nsmallest(
            _WEIGHED,
            (
                (distance, -JaroWinkler.similarity(word, other), -self._frequencies[other], other)
                for other, distance in self._near(word, max_edits)
            ),
        )
        order = [(slip_score(word, other), rarity, other, distance) for distance, _, rarity, other in nearest]
        return [(other, distance) for _, _, other, distance in sorted(order)]

    def _near(self, word: str, edits: int) -> list[tuple[str, int]]:
        """Return the other words within some edits, with their distances, in no order that matters."""
        lengths = range(len(word) - edits, len(word) + edits + 1)
        others = [other for length in lengths for other in self._by_length.get(length, ())]
        if not others:
            return []
        distances = cdist([word], others, scorer=OSA.distance, score_cutoff=edits, dtype=np.uint8)[0]
        near = np.flatnonzero((distances <= edits) & (distances > 0))
        return [(others[place], int(distances[place])) for place in near]

    @cached_property
    def _by_length(self) -> dict[int, list[str]]:
        buckets: dict[int, list[str]] = {}
        for word in self._frequencies:
            buckets.setdefault(len(word), []).append(word)
        return buckets

    @cached_property
    def _by_start(self) -> dict[str, list[str]]:
        buckets: dict[str, list[str]] = {}
        for word in self._frequencies:
            buckets.setdefault(word[:3], []).append(word)
        return buckets
