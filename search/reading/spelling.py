"""Tell which words are spelled as they should be, and what a misspelt one may mean."""

from functools import lru_cache
from math import log10
from typing import NamedTuple

from rapidfuzz.distance import OSA

from search.reading.concepts import ConceptFinder
from search.reading.lexicon import Lexicon, slip_score
from search.reading.text import Token, is_stop_word, stem
from search.reading.word_lists import is_english, near_words, word_lists, word_sets

# All chosen by us; what the limits cost on real misspellings is in tests/benchmarks/misspellings.py.
_SHORTEST_BENT, _LONGEST_BENT = 4, 30  # letters; the latter against pasted rubbish
_TWO_EDITS_FROM = 8  # letters of a word that may be bent by two edits, not one
_WEIGHT_OF_EDITS = (1.0, 0.7, 0.5)  # a guessed word counts below the word that was typed
_WEIGHT_OF_PLACE = (1.0, 0.6, 0.4)  # second and third guesses count less than the first
_MOST_GUESSES = len(_WEIGHT_OF_PLACE)
# Costs beside search.reading.lexicon.
_TRADE_WORD = 0.3  # what speaks for a word of the notes or the vocabulary over one of general English
_STORY_WORD = 0.4  # the same for a small word of a story: "wich" is "which", no "winch"
_RARITY = 0.2  # what speaks against a rare word of general English, a factor of ten in its rank
_MUCH_WORSE = 0.5  # a guess so much worse than the first is not searched for
_MOST_REMEMBERED = 50_000  # words; a list of 20,000 complaints has fewer

_OFF = word_sets("off")
_INFORMAL = {said: meant for meant, words in word_lists()["informal"].items() for said in words.split()}


class Guess(NamedTuple):
    """Hold a word that may have been meant, with what it counts for, within (0, 1]."""

    word: str
    weight: float


class Spelling:
    """Know the words of the notes, of the vocabulary and of general English. Safe between threads."""

    def __init__(self, finder: ConceptFinder, lexicon: Lexicon | None) -> None:
        self._finder = finder
        phrases = Lexicon(dict.fromkeys(finder.words, 1))
        self._lexicons = [phrases] if lexicon is None else [lexicon, phrases]
        self.guesses = lru_cache(_MOST_REMEMBERED)(self._guesses)

    def knows(self, word: str) -> bool:
        """Return whether a word needs no correcting."""
        # General English is asked last: its list takes a moment to load, and most complaints need none of it.
        if word in _INFORMAL:
            return False
        is_of_trade = is_stop_word(word) or stem(word) in self._finder.stems
        return is_of_trade or self._lexicons[0].knows(word) or is_english(word)

    def meant(self, word: str) -> str:
        """Return what a word most likely stands for: itself where it is known."""
        guesses = self.guesses(word)
        return guesses[0].word if guesses else word

    def _guesses(self, word: str) -> tuple[Guess, ...]:
        """Return what a word may mean, the likeliest first; nothing for one that is known or has digits."""
        if word in _INFORMAL:
            return (Guess(_INFORMAL[word], 1.0),)
        if not (word.isalpha() and _SHORTEST_BENT <= len(word) <= _LONGEST_BENT) or self.knows(word):
            return ()
        edits = 2 if len(word) >= _TWO_EDITS_FROM else 1
        cost = {
            other: slip_score(word, other) - _TRADE_WORD
            for lexicon in self._lexicons
            for other, _ in lexicon.ranked(word, max_edits=edits)[:_MOST_GUESSES]
        }
        for other, rank in near_words(word).items():
            rarity = -_STORY_WORD if is_stop_word(other) else _RARITY * log10(1 + rank / 1000)
            cost.setdefault(other, slip_score(word, other) + rarity)
        order = sorted(cost, key=lambda other: (cost[other], other))[:_MOST_GUESSES]
        return tuple(
            Guess(other, _WEIGHT_OF_EDITS[OSA.distance(word, other)] * weight)
            for other, weight in zip(order, _WEIGHT_OF_PLACE, strict=False)
            if cost[other] <= cost[order[0]] + _MUCH_WORSE
        )


@lru_cache(maxsize=8)
def spelling_for(finder: ConceptFinder, lexicon: Lexicon | None) -> Spelling:
    """Return what is known of spelling for a vocabulary and the words of an index, made once for each."""
    return Spelling(finder, lexicon)


def with_off(tokens: list[Token]) -> list[Token]:
    """Return the tokens with "off" where "of" was written for it: "switched of by itself"."""
    for place in range(1, len(tokens)):
        before, said = tokens[place - 1].text, tokens[place].text
        after = tokens[place + 1].text if place + 1 < len(tokens) else ""
        may_be = before in _OFF["after_others"] and after not in _OFF["before_things"]
        if said == "of" and (may_be or before in _OFF["after_verbs"]):
            tokens[place] = tokens[place]._replace(text="off", stem="off")
    return tokens
