"""Cut a text into words and marks, and hold the word lists of denial.toml, for finding what a text denies."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

# Every repetition is bounded or of one kind of sign, so that a text is cut in time linear in its length.
_WORD = re.compile(
    r"""
    (?P<negated> (?<!\w)
        (?P<helper> do|does|did|is|are|was|were|have|has|had|ca|wo|sha|could|would|should|must|need|might|ai )
        \s? n \s? [^\w.,;:!\n]{0,3} t (?!\w) )
  | (?P<word> \d+ (?: [.,:] \d+ )+ \w* | \w+ (?: ['\u2019\u02bc`] \w+ )* )
  | (?P<mark> [.,;:!?()\[\]\n+~\u2026\u2013\u2014] | (?<!\w)-+ | -+(?!\w) | -{2,} )
    """,
    re.VERBOSE | re.IGNORECASE,
)
_APOSTROPHES = str.maketrans("\u2019\u02bc`", "'''")


class Word(NamedTuple):
    """Hold one word or mark. text: lower case; start, end: offsets.

    is_cue: it denies what follows. negated: it ends in "-n't".
    """

    text: str
    start: int
    end: int
    is_mark: bool = False
    negated: bool = False
    is_cue: bool = False


class WordLists:
    """Hold the lists of denial.toml: sets of words as attributes, phrases by name."""

    def __init__(self, path: Path) -> None:
        """Read a file: in its tables a string is a set of words, a list holds phrases."""
        self._phrases: dict[str, dict[str, tuple[tuple[str, ...], ...]]] = {}
        for table in tomllib.loads(path.read_text(encoding="utf-8")).values():
            for name, value in table.items():
                if isinstance(value, str):
                    setattr(self, name, frozenset(value.split()))
                else:
                    self._phrases[name] = _by_first_word(value)

    def __getattr__(self, name: str) -> frozenset[str]:
        """Say that there is no such list; the lists there are were set as attributes."""
        raise AttributeError(f"denial.toml has no list of words {name!r}")

    def phrase_at(self, name: str, words: Sequence[Word], place: int) -> int:
        """Return how many words the longest phrase of a list that starts at a place has, 0 if none."""
        if place >= len(words):
            return 0
        for phrase in self._phrases[name].get(words[place].text, ()):
            if tuple(word.text for word in words[place : place + len(phrase)]) == phrase:
                return len(phrase)
        return 0


def _by_first_word(phrases: Iterable[str]) -> dict[str, tuple[tuple[str, ...], ...]]:
    by_first: dict[str, list[tuple[str, ...]]] = {}
    for phrase in phrases:
        parts = tuple(phrase.split())
        by_first.setdefault(parts[0], []).append(parts)
    return {first: tuple(sorted(each, key=len, reverse=True)) for first, each in by_first.items()}


LISTS = WordLists(Path(__file__).with_name("denial.toml"))


def cut_words(text: str, meant: Callable[[str], str] = str) -> list[Word]:
    """Return the words and marks of a text in order; "dont" becomes "don't", "free of" is one "without".

    meant: tells what a word stands for that may be misspelt.
    """
    words: list[Word] = []
    for match in _WORD.finditer(text):
        start, end = match.span()
        if match["negated"]:
            words.append(Word(f"{match['helper'].lower()}n't", start, end, negated=True, is_cue=True))
        else:
            said = match.group().lower().translate(_APOSTROPHES)
            said = said if said in LISTS.misspelt else meant(said)
            negated = said in LISTS.misspelt
            is_cue = negated or said in LISTS.verb_cues or said in LISTS.noun_cues
            words.append(Word(said, start, end, bool(match["mark"]), negated, is_cue))
    return _with_phrases_joined(words)


def _with_phrases_joined(words: Sequence[Word]) -> list[Word]:
    joined: list[Word] = []
    place = 0
    while place < len(words):
        length = LISTS.phrase_at("without", words, place)
        if length and place and LISTS.phrase_at("cleared", words, place - 1):  # "it was ruled out"
            length = 0
        if length:
            joined.append(Word("without", words[place].start, words[place + length - 1].end, is_cue=True))
        else:
            joined.append(words[place])
        place += max(length, 1)
    return joined
