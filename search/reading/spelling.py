"""Tell which words are spelled as they should be, and what a misspelt one may mean."""

from __future__ import annotations

from functools import lru_cache

from search.reading.concepts import ConceptFinder
from search.reading.english import is_english
from search.reading.lexicon import Lexicon, Suggestion
from search.reading.text import is_stop_word, stem

_MOST_GUESSES = 3  # chosen by us: words searched for in place of one that nobody knows
_MOST_REMEMBERED = 50_000  # words; a list of 20,000 complaints has fewer


class Spelling:
    """Know the words of the notes, of the vocabulary and of general English. Safe between threads."""

    def __init__(self, finder: ConceptFinder, lexicon: Lexicon | None) -> None:
        self._finder = finder
        self._lexicons = [*([lexicon] if lexicon is not None else []), _phrase_lexicon(finder)]
        self._remembered: dict[str, tuple[Suggestion, ...]] = {}

    def knows(self, word: str) -> bool:
        """Return whether a word needs no correcting."""
        return self._is_common(word) or self._lexicons[0].knows(word)

    def guesses(self, word: str) -> tuple[Suggestion, ...]:
        """Return what a word may mean; nothing for one that is known, unless it stands in a single note."""
        found = self._remembered.get(word)
        if found is None:
            if len(self._remembered) >= _MOST_REMEMBERED:
                self._remembered.clear()
            found = self._remembered[word] = () if self._is_common(word) else self._guesses(word)
        return found

    def _is_common(self, word: str) -> bool:
        return is_stop_word(word) or stem(word) in self._finder.stems or is_english(word)

    def _guesses(self, word: str) -> tuple[Suggestion, ...]:
        best: dict[str, Suggestion] = {}
        for lexicon in self._lexicons[:1] if self._lexicons[0].knows(word) else self._lexicons:
            for guess in lexicon.suggest(word, _MOST_GUESSES):
                best.setdefault(guess.word, guess)
        return tuple(sorted(best.values(), key=lambda guess: (guess.distance, -guess.weight))[:_MOST_GUESSES])


@lru_cache(maxsize=8)
def spelling_for(finder: ConceptFinder, lexicon: Lexicon | None) -> Spelling:
    """Return what is known of spelling for a vocabulary and the words of an index, made once for each."""
    return Spelling(finder, lexicon)


@lru_cache(maxsize=8)
def _phrase_lexicon(finder: ConceptFinder) -> Lexicon:
    return Lexicon(dict.fromkeys(finder.words, 1))
