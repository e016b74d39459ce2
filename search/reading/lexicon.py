"""Find the words near to a misspelt one, the likeliest slip first: letters swapped, doubled or missed."""

from collections.abc import Mapping
from functools import cached_property
from heapq import nsmallest

from rapidfuzz import process
from rapidfuzz.distance import OSA, JaroWinkler, Levenshtein

from search.reading.text import stem

_WEIGHED = 12  # chosen by us: candidates weighed closely; more gained nothing on codespell's pairs

# Chosen by us on 5,000 of codespell's pairs; tests/benchmarks/misspellings.py measures them on all.
_ALIKE_FOR_ALIKE, _OTHER_LETTER = 0.8, 1.0  # a letter for another
_DOUBLED = 0.7  # a letter doubled, or a double one written once
_VOWEL_MISSED, _CONSONANT_MISSED = 0.7, 0.8
_VOWEL_ADDED, _CONSONANT_ADDED = 0.95, 1.0
_WRONG_START, _WRONG_END = 0.6, 0.15
_SIMILARITY = 3.5  # what a Jaro-Winkler similarity of 1 is worth against these costs

_VOWELS = frozenset("aeiouy")
_PAIRS = "ck cs sz kq fv gj dt mn bp sx uw lr"
_ALIKE = {frozenset(pair) for pair in _PAIRS.split()}


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
            stem(other) == form for other in self._groups.get(word[:3], ())
        )

    def ranked(self, word: str, *, max_edits: int) -> list[tuple[str, int]]:
        """Return other words within some edits, the likeliest first, each with its distance, at most 12.

        The nearest by optimal string alignment and Jaro-Winkler are ordered by slip_score, ties by frequency,
        then alphabet.
        """
        lengths = range(len(word) - max_edits, len(word) + max_edits + 1)
        others = [other for length in lengths for other in self._groups.get(length, ())]
        near = process.extract(word, others, scorer=OSA.distance, score_cutoff=max_edits, limit=None)
        nearest = nsmallest(
            _WEIGHED,
            (
                (distance, -JaroWinkler.similarity(word, other), -self._frequencies[other], other)
                for other, distance, _ in near
                if distance
            ),
        )
        nearest.sort(key=lambda found: (slip_score(word, found[3]), found[2:]))
        return [(other, int(distance)) for distance, _, _, other in nearest]

    @cached_property
    def _groups(self) -> dict[int | str, list[str]]:
        """The words by their length and by their first three letters."""
        groups: dict[int | str, list[str]] = {}
        for word in self._frequencies:
            for key in (len(word), word[:3]):
                groups.setdefault(key, []).append(word)
        return groups


def slip_score(typed: str, meant: str) -> float:
    """Return how unlikely `typed` is a slip of `meant`; lower is likelier, comparable for one typed word.

    The cost of the fewest edits, with two swapped letters as one, less the Jaro-Winkler similarity. Neither
    word may be empty.
    """
    cost = (typed[0] != meant[0]) * _WRONG_START + (typed[-1] != meant[-1]) * _WRONG_END
    for edit in Levenshtein.editops(typed, meant):
        at, other = edit.src_pos, edit.dest_pos
        if edit.tag == "replace":
            pair = frozenset((typed[at], meant[other]))
            cost += _ALIKE_FOR_ALIKE if pair <= _VOWELS or pair in _ALIKE else _OTHER_LETTER
        elif edit.tag == "delete":
            cost += _lone_cost(typed, at, _VOWEL_ADDED, _CONSONANT_ADDED)
        else:
            cost += _lone_cost(meant, other, _VOWEL_MISSED, _CONSONANT_MISSED)
    swapped = Levenshtein.distance(typed, meant) - OSA.distance(typed, meant)
    return cost - swapped - _SIMILARITY * JaroWinkler.similarity(typed, meant)


def _lone_cost(word: str, place: int, vowel: float, consonant: float) -> float:
    """Return the cost of a letter that only one of the words has."""
    letter = word[place]
    if letter in word[max(place - 1, 0) : place] + word[place + 1 : place + 2]:
        return _DOUBLED
    return vowel if letter in _VOWELS else consonant
