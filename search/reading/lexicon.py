"""Suggest the words a misspelt one may have meant, from the words the notes themselves use."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from heapq import nsmallest

import numpy as np
from rapidfuzz.distance import OSA, JaroWinkler
from rapidfuzz.process import cdist

from search.reading.text import stem
from search.reading.typos import slip_score

# Search bends a word by no more than this: (letters from, edits). Chosen by us; what that costs on real
# misspellings is measured in tests/benchmarks/misspellings.py.
_EDITS_FROM_LENGTH = ((8, 2), (4, 1))
_WEIGHT_OF_EDITS = (1.0, 0.7, 0.5)  # chosen by us: a guessed word counts below the word that was typed
_WEIGHT_OF_PLACE = (1.0, 0.6, 0.4)  # chosen by us: second and third guesses count less than the first
_WELL_KNOWN = 2  # chosen by us: a word in one note alone may be that note's own misspelling
_FAR_COMMONER = 20.0  # chosen by us: so much commoner must a word be to be offered beside a known one
_WEIGHED = 12  # chosen by us: candidates weighed closely; more gained nothing on codespell's pairs


@dataclass(frozen=True, kw_only=True)
class Suggestion:
    """Hold a word that may have been meant.

    distance: optimal string alignment edits from what was typed, 1 or more. weight: within (0, 1).
    """

    word: str
    distance: int
    weight: float


def guess_weight(distance: int, place: int) -> float:
    """Return what a guess counts for, by its edits and its place among the guesses, 0 for the first."""
    return _WEIGHT_OF_EDITS[distance] * _WEIGHT_OF_PLACE[place]


class Lexicon:
    """Hold the words of an index with how often each occurs.

    frequencies: surface words as written, lower case (`text.words_of`), with the number of notes
    or places each occurs in; above 0. Surface words and not stems, because a misspelling is an edit away from
    what people write: "capasitors" is one edit from "capacitors", and its broken ending stems elsewhere.
    What is suggested is stemmed afterwards by whoever searches for it.
    """

    def __init__(self, frequencies: Mapping[str, int]) -> None:
        self._frequencies = {word: count for word, count in frequencies.items() if word and count > 0}

    def __len__(self) -> int:
        return len(self._frequencies)

    def frequency(self, word: str) -> int:
        """Return how often a word occurs; 0 for an unknown one."""
        return self._frequencies.get(word, 0)

    def is_well_known(self, word: str) -> bool:
        """Return whether a word occurs too often to be a misspelling."""
        return self.frequency(word) >= _WELL_KNOWN

    def knows(self, word: str) -> bool:
        """Return whether a word, or another form of it, occurs."""
        if word in self._frequencies:
            return True
        form = stem(word)
        return any(stem(other) == form for other in self._by_start.get(word[:3], ()))

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

    def suggest(self, word: str, limit: int = 3) -> list[Suggestion]:
        """Return what an unknown word may mean, the likeliest first, at most three.

        Nothing below four letters, one edit from four, two from eight. A word that is well known is not bent;
        one seen in a single note only is, towards words that are far commoner.
        """
        edits = next((most for length, most in _EDITS_FROM_LENGTH if len(word) >= length), 0)
        own = self.frequency(word)
        if not edits or self.is_well_known(word) or (not own and self.knows(word)):
            return []
        limit = min(limit, len(_WEIGHT_OF_PLACE))
        found = [
            (other, distance)
            for other, distance in self.ranked(word, max_edits=edits)
            if not own or self._frequencies[other] >= own * _FAR_COMMONER
        ]
        return [
            Suggestion(word=other, distance=distance, weight=guess_weight(distance, place))
            for place, (other, distance) in enumerate(found[:limit])
        ]

    def _near(self, word: str, edits: int) -> list[tuple[str, int]]:
        """Return the other words within some edits, with their distances, in no order that matters."""
        lengths = range(len(word) - edits, len(word) + edits + 1)
        others = [other for length in lengths for other in self._by_length.get(length, ())]
        if not others or edits < 1:
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
