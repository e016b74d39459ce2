"""Weigh how likely one word is a slip of another: letters swapped, doubled or missed, vowels mixed up."""

from __future__ import annotations

from functools import lru_cache

from rapidfuzz.distance import JaroWinkler

# Chosen by us on 3,000 of codespell's pairs and confirmed on 3,000 others; how they do on all of them is
# measured in tests/benchmarks/misspellings.py.
_VOWEL_FOR_VOWEL = 0.8
_ALIKE_FOR_ALIKE = 0.8
_OTHER_LETTER = 1.0
_SWAPPED = 0.75
_DOUBLED = 0.5  # a letter doubled, or a double one written once
_VOWEL_MISSED, _CONSONANT_MISSED = 0.75, 0.85
_VOWEL_ADDED, _CONSONANT_ADDED = 0.95, 1.0
_WRONG_START, _WRONG_END = 0.4, 0.15
_SIMILARITY = 4.0  # what a Jaro-Winkler similarity of 1 is worth against these costs

_VOWELS = frozenset("aeiouy")
_PAIRS = "ck cs sz kq fv gj dt mn bp sx uw lr"
_ALIKE = frozenset(frozenset(pair) for pair in _PAIRS.split())


def slip_score(typed: str, meant: str) -> float:
    """Return how unlikely `typed` is a slip of `meant`; lower is likelier, comparable for one typed word.

    The cost of the cheapest edits (optimal string alignment with unequal weights), less the Jaro-Winkler
    similarity. Neither word may be empty.
    """
    ends = (typed[0] != meant[0]) * _WRONG_START + (typed[-1] != meant[-1]) * _WRONG_END
    return ends + _edit_cost(typed, meant) - _SIMILARITY * JaroWinkler.similarity(typed, meant)


def _edit_cost(typed: str, meant: str) -> float:
    """Return the cost of turning one word into the other; only the part where they differ is looked at."""
    start = 0
    while start < min(len(typed), len(meant)) and typed[start] == meant[start]:
        start += 1
    end = 0
    while end < min(len(typed), len(meant)) - start and typed[-1 - end] == meant[-1 - end]:
        end += 1
    typed_to, meant_to = len(typed) - end, len(meant) - end
    missed = [_lone_cost(meant, place, _VOWEL_MISSED, _CONSONANT_MISSED) for place in range(start, meant_to)]
    previous: list[float] = []
    above = [sum(missed[:count]) for count in range(len(missed) + 1)]
    for place in range(start, typed_to):
        added = _lone_cost(typed, place, _VOWEL_ADDED, _CONSONANT_ADDED)
        row = [above[0] + added]
        for column, letter in enumerate(meant[start:meant_to]):
            best = min(
                above[column] + _swap_cost(typed[place], letter),
                above[column + 1] + added,
                row[column] + missed[column],
            )
            if (
                column
                and place > start
                and typed[place - 1 : place + 1] == letter + meant[start + column - 1]
            ):
                best = min(best, previous[column - 1] + _SWAPPED)
            row.append(best)
        previous, above = above, row
    return above[-1]


def _lone_cost(word: str, place: int, vowel: float, consonant: float) -> float:
    """Return the cost of a letter that only one of the words has."""
    letter = word[place]
    if letter in (word[place - 1] if place else "", word[place + 1] if place + 1 < len(word) else ""):
        return _DOUBLED
    return vowel if letter in _VOWELS else consonant


@lru_cache(maxsize=4096)
def _swap_cost(typed: str, meant: str) -> float:
    """Return the cost of one letter written for another."""
    if typed == meant:
        return 0.0
    if typed in _VOWELS and meant in _VOWELS:
        return _VOWEL_FOR_VOWEL
    return _ALIKE_FOR_ALIKE if frozenset((typed, meant)) in _ALIKE else _OTHER_LETTER
