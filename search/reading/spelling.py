"""Tell which words are spelled right, and what a misspelt one may mean, the likeliest first."""

import itertools
import re
from collections import Counter
from collections.abc import Mapping
from functools import cache, cached_property, lru_cache
from heapq import nsmallest
from math import log10
from typing import NamedTuple

from rapidfuzz import process
from rapidfuzz.distance import OSA, JaroWinkler, Levenshtein

from kb.terms import load_faults
from search.reading.asides import places_of
from search.reading.concepts import ConceptFinder
from search.reading.text import Token, is_stop_word, stem
from search.reading.word_lists import is_english, near_words, word_lists

# All chosen by us; tests/benchmarks/misspellings.py measures them on real misspellings.
_SHORTEST_BENT, _LONGEST_BENT = 4, 30  # letters of a word that is corrected; longer ones are pasted rubbish
_TWO_EDITS_FROM = 8  # letters from which a word may be two edits off, not one
_WEIGHT_OF_EDITS = (1.0, 0.7, 0.5)  # a guessed word counts less than one that was typed
_WEIGHT_OF_PLACE = (1.0, 0.6, 0.4)  # second and third guesses count less than the first
_MOST_GUESSES = len(_WEIGHT_OF_PLACE)
# Costs added to those of the edits.
_TRADE_WORD = 0.3  # bonus of a word of the notes or the vocabulary over one of general English
_STORY_WORD = 0.4  # bonus of a small word: "wich" is "which", no "winch"
_RARITY = 0.2  # cost of a rare word of general English, for each factor of ten in its rank
_SAID = 0.1  # bonus of a word that owners say, for each factor of ten in how often: "warter" is no "warmer"
_MUCH_WORSE = 0.5  # a guess that costs so much more than the first is dropped
_MOST_REMEMBERED = 50_000  # words; a list of 20,000 complaints has fewer

_WEIGHED = 12  # chosen by us: candidates scored; more gained nothing on codespell's pairs

# Chosen by us on 5,000 of codespell's pairs; tests/benchmarks/misspellings.py measures them on all.
_ALIKE_FOR_ALIKE, _OTHER_LETTER = 0.8, 1.0  # a letter for another
_DOUBLED = 0.7  # a letter doubled, or a double one written once
_VOWEL_MISSED, _CONSONANT_MISSED = 0.7, 0.8
_VOWEL_ADDED, _CONSONANT_ADDED = 0.95, 1.0
_WRONG_START, _WRONG_END = 0.6, 0.15
_SIMILARITY = 3.5  # bonus for a Jaro-Winkler similarity of 1

_VOWELS = frozenset("aeiouy")
_PAIRS = "ck cs sz kq fv gj dt mn bp sx uw lr"
_ALIKE = {frozenset(pair) for pair in _PAIRS.split()}

_INFORMAL = {said: meant for meant, words in word_lists()["informal"].items() for said in words.split()}


class Lexicon:
    """Hold the words of an index with how often each occurs.

    frequencies: by word as written, lower case (`text.words_of`), the number of notes or places with it,
    above 0. Words and not stems, because a misspelling is close to what people write: "capasitors" is one
    edit from "capacitors", while its stem may be far away.
    """

    def __init__(self, frequencies: Mapping[str, int]) -> None:
        self._frequencies = {word: count for word, count in frequencies.items() if word and count > 0}

    def knows(self, word: str) -> bool:
        """Tell whether a word, or another form of it, occurs."""
        form = stem(word)
        return word in self._frequencies or any(
            stem(other) == form for other in self._groups.get(word[:3], ())
        )

    def ranked(self, word: str, *, max_edits: int) -> list[tuple[str, int]]:
        """Return other words within some edits, each with its distance, the likeliest first, at most 12.

        Words near by optimal string alignment and Jaro-Winkler are ordered by slip_score(), then by
        frequency, then by alphabet.
        """
        lengths = range(len(word) - max_edits, len(word) + max_edits + 1)
        others = [other for length in lengths for other in self._groups.get(length, ())]
        found = process.extract(word, others, scorer=OSA.distance, score_cutoff=max_edits, limit=None)
        near = {other: int(distance) for other, distance, _ in found if distance}
        commoner = {other: (-self._frequencies[other], other) for other in near}
        likeness = {other: (edits, -JaroWinkler.similarity(word, other)) for other, edits in near.items()}
        nearest = nsmallest(_WEIGHED, near, key=lambda other: likeness[other] + commoner[other])
        nearest.sort(key=lambda other: (slip_score(word, other), commoner[other]))
        return [(other, near[other]) for other in nearest]

    @cached_property
    def _groups(self) -> dict[int | str, list[str]]:
        """The words by length, and by their first three letters."""
        groups: dict[int | str, list[str]] = {}
        for word in self._frequencies:
            for key in (len(word), word[:3]):
                groups.setdefault(key, []).append(word)
        return groups


def slip_score(typed: str, meant: str) -> float:
    """Return how unlikely it is that `typed` was meant as `meant`. Compare only scores of one typed word.

    It is the cost of the fewest edits (swapping two letters is one edit), less the Jaro-Winkler similarity.
    Neither word may be empty.
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
    """Return the cost of a letter that only one of two words has."""
    letter = word[place]
    if letter in word[max(place - 1, 0) : place] + word[place + 1 : place + 2]:
        return _DOUBLED
    return vowel if letter in _VOWELS else consonant


class Guess(NamedTuple):
    """Hold a word that may have been meant, and its weight within (0, 1]."""

    word: str
    weight: float


def _near(word: str, lexicon: Lexicon) -> list[str]:
    """Return the words of a lexicon that a word may stand for; a short one may lack two letters."""
    if len(word) >= _TWO_EDITS_FROM:
        return [other for other, _ in lexicon.ranked(word, max_edits=2)[:_MOST_GUESSES]]
    one = [other for other, _ in lexicon.ranked(word, max_edits=1)[:_MOST_GUESSES]]
    if len(word) <= _SHORTEST_BENT:
        return one
    missed = (other for other, _ in lexicon.ranked(word, max_edits=2) if len(other) == len(word) + 2)
    return [*one, *itertools.islice(missed, _MOST_GUESSES)]


@cache
def _words_said() -> Counter[str]:
    """Return how often owners say each word, judged by the signs of faults."""
    signs = " ".join(sign for fault in load_faults() for sign in fault.signs)
    return Counter(re.findall(r"[a-z']+", signs.lower()))


@lru_cache(maxsize=8)
def _phrases_of(finder: ConceptFinder) -> Lexicon:
    """Return the words of a vocabulary; they are the same in all states of a notebook."""
    return Lexicon(dict.fromkeys(finder.words, 1))


class Spelling:
    """The words of the notes, of the vocabulary and of general English. Safe between threads."""

    def __init__(self, finder: ConceptFinder, lexicon: Lexicon | None) -> None:
        self._finder = finder
        phrases = _phrases_of(finder)
        self._lexicons = [phrases] if lexicon is None else [lexicon, phrases]
        self.guesses = lru_cache(_MOST_REMEMBERED)(self._guesses)

    def knows(self, word: str) -> bool:
        """Tell whether a word needs no correction."""
        # General English comes last: its list takes a moment to load, and most complaints do not need it.
        if word in _INFORMAL:
            return False
        is_of_trade = is_stop_word(word) or stem(word) in self._finder.stems
        return is_of_trade or self._lexicons[0].knows(word) or is_english(word)

    def meant(self, word: str) -> str:
        """Return what a word most likely stands for: itself where it is known."""
        guesses = self.guesses(word)
        return guesses[0].word if guesses else word

    def _guesses(self, word: str) -> tuple[Guess, ...]:
        """Return what a word may mean, the likeliest first; nothing for a known word or one with digits."""
        if word in _INFORMAL:
            return (Guess(_INFORMAL[word], 1.0),)
        agent = word[:-2] + "or"  # "extracter" has the stem of "extract", but means an extractor
        if word.endswith(("er", "ar")) and agent in self._finder.words and not is_english(word):
            return (Guess(agent, _WEIGHT_OF_EDITS[1]),)
        if not (word.isalpha() and _SHORTEST_BENT <= len(word) <= _LONGEST_BENT) or self.knows(word):
            return ()
        near = itertools.chain.from_iterable(_near(word, lexicon) for lexicon in self._lexicons)
        cost = {other: slip_score(word, other) - _TRADE_WORD for other in near}
        for other, rank in near_words(word).items():
            rarity = -_STORY_WORD if is_stop_word(other) else _RARITY * log10(1 + rank / 1000)
            cost.setdefault(other, slip_score(word, other) + rarity)
        said = _words_said()
        cost = {other: each - _SAID * log10(1 + said[other]) for other, each in cost.items()}
        order = sorted(cost, key=lambda other: (cost[other], other))[:_MOST_GUESSES]
        return tuple(
            Guess(other, _WEIGHT_OF_EDITS[OSA.distance(word, other)] * weight)
            for other, weight in zip(order, _WEIGHT_OF_PLACE, strict=False)
            if cost[other] <= cost[order[0]] + _MUCH_WORSE
        )


@lru_cache(maxsize=8)
def spelling_for(finder: ConceptFinder, lexicon: Lexicon | None) -> Spelling:
    """Return the spelling for a vocabulary and the words of an index, kept for next time."""
    return Spelling(finder, lexicon)


def with_off(tokens: list[Token]) -> list[Token]:
    """Return the tokens with "of" corrected to "off": "switched of by itself"."""
    for places in places_of("off", tokens):
        tokens[places.start] = tokens[places.start]._replace(text="off", stem="off")
    return tokens
