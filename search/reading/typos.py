"""Weigh how likely one word is a slip of another: letters swapped, doubled or missed, vowels mixed up."""

from rapidfuzz.distance import OSA, JaroWinkler, Levenshtein

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
