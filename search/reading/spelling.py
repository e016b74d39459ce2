"""Tell which words are spelled as they should be, and what a misspelt one may mean."""

from __future__ import annotations

from functools import lru_cache
from math import log10

from rapidfuzz.distance import OSA

from search.reading.concepts import ConceptFinder
from search.reading.english import is_english, near_words
from search.reading.lexicon import Lexicon, Suggestion, guess_weight
from search.reading.text import Token, is_stop_word, stem
from search.reading.typos import slip_score
from search.reading.word_lists import word_sets

_MOST_GUESSES = 3  # chosen by us: words searched for in place of one that nobody knows
_SHORTEST_BENT, _LONGEST_BENT = 4, 30  # letters; chosen by us, the latter against pasted rubbish
# Costs beside search.reading.typos, chosen by us on codespell's pairs (tests/benchmarks/misspellings.py).
_TRADE_WORD = 0.3  # what speaks for a word of the notes or the vocabulary over one of general English
_RARITY = 0.2  # what speaks against a rare word of general English, a factor of ten in its rank
_MUCH_WORSE = 0.5  # a guess so much worse than the first is not searched for
_MOST_REMEMBERED = 50_000  # words; a list of 20,000 complaints has fewer

_OFF = word_sets("off")


class Spelling:
    """Know the words of the notes, of the vocabulary and of general English. Safe between threads."""

    def __init__(self, finder: ConceptFinder, lexicon: Lexicon | None) -> None:
        self._finder = finder
        self._lexicons = [*([lexicon] if lexicon is not None else []), _phrase_lexicon(finder)]
        self._remembered: dict[str, tuple[Suggestion, ...]] = {}

    def knows(self, word: str) -> bool:
        """Return whether a word needs no correcting."""
        return self._is_of_trade(word) or self._lexicons[0].knows(word) or is_english(word)

    def guesses(self, word: str) -> tuple[Suggestion, ...]:
        """Return what a word may mean; nothing for one that is known, unless it stands in a single note."""
        found = self._remembered.get(word)
        if found is None and len(word) > _LONGEST_BENT:
            return ()
        if found is None:
            if len(self._remembered) >= _MOST_REMEMBERED:
                self._remembered.clear()
            found = self._remembered[word] = self._guesses(word)
        return found

    def meant(self, word: str) -> str:
        """Return what a word most likely stands for: itself where it is known."""
        guesses = self.guesses(word) if word.isalpha() else ()
        return guesses[0].word if guesses else word

    def _is_of_trade(self, word: str) -> bool:
        return is_stop_word(word) or stem(word) in self._finder.stems

    def _guesses(self, word: str) -> tuple[Suggestion, ...]:
        # General English is asked last: its list takes a moment to load, and most complaints need none of it.
        if self._is_of_trade(word) or self._lexicons[0].is_well_known(word) or is_english(word):
            return ()
        if self._lexicons[0].knows(word):  # seen in a single note, which may have misspelt it
            return tuple(self._lexicons[0].suggest(word, _MOST_GUESSES))
        found: dict[str, Suggestion] = {}
        for lexicon in self._lexicons:
            for guess in lexicon.suggest(word, _MOST_GUESSES):
                found.setdefault(guess.word, guess)
        cost = {other: slip_score(word, other) - _TRADE_WORD for other in found}
        if len(word) >= _SHORTEST_BENT:
            for other, rank in near_words(word).items():
                if other not in cost:
                    cost[other] = slip_score(word, other) + _RARITY * log10(1 + rank / 1000)
        order = sorted(cost, key=lambda other: (cost[other], other))[:_MOST_GUESSES]
        return tuple(
            Suggestion(word=other, distance=distance, weight=guess_weight(distance, place))
            for place, other in enumerate(order)
            if cost[other] <= cost[order[0]] + _MUCH_WORSE
            for distance in [OSA.distance(word, other)]
        )


@lru_cache(maxsize=8)
def spelling_for(finder: ConceptFinder, lexicon: Lexicon | None) -> Spelling:
    """Return what is known of spelling for a vocabulary and the words of an index, made once for each."""
    return Spelling(finder, lexicon)


@lru_cache(maxsize=8)
def _phrase_lexicon(finder: ConceptFinder) -> Lexicon:
    return Lexicon(dict.fromkeys(finder.words, 1))


def with_off(tokens: list[Token]) -> list[Token]:
    """Return the tokens with "off" where "of" was written for it: "switched of by itself"."""
    for place in range(1, len(tokens)):
        before, said = tokens[place - 1].text, tokens[place].text
        after = tokens[place + 1].text if place + 1 < len(tokens) else ""
        may_be = before in _OFF["after_others"] and after not in _OFF["before_things"]
        if said == "of" and (may_be or before in _OFF["after_verbs"]):
            tokens[place] = tokens[place]._replace(text="off", stem="off")
    return tokens
