"""Cut a text into words and marks, each with its lists of denial.toml, and find the phrases there."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from search.reading.text import stem

# Every repetition is bounded or of one kind of sign, so that a text is cut in time linear in its length.
_WORD = re.compile(
    r"""
    (?P<negated> (?<!\w)
        (?P<helper> do|does|did|is|are|was|were|have|has|had|ca|can|wo|sha|could|would|should|must|need|might
          | ai|dos|hav|wer|cud|wud|shud ) [ei]?
        \s? n \s? (?: [^\w.,;:!\n]{0,3} | o ) t (?!\w) )
  | (?P<word> \d+ (?: [.,:] \d+ )+ \w* | \w+ (?: ['\u2019\u02bc`] \w+ )* )
  | (?P<mark> [.,;:!?()\[\]\n+~\u2026\u2013\u2014] | (?<!\w)-+ | -+(?!\w) | -{2,} )
    """,
    re.VERBOSE | re.IGNORECASE,
)
_APOSTROPHES = str.maketrans("\u2019\u02bc`", "'''")
_YEAR = re.compile(r"(19|20)\d\d")

_TABLES = tomllib.loads(Path(__file__).with_name("denial.toml").read_text(encoding="utf-8"))
_LISTS = {name: value for table in _TABLES.values() for name, value in table.items()}
WORD_LISTS = {name: frozenset(value.split()) for name, value in _LISTS.items() if isinstance(value, str)}
# By list and first part; a part such as "<months>" stands for any word of that list.
_PHRASES: dict[str, dict[str, list[list[str]]]] = {}
for _name, _value in _LISTS.items():
    if not isinstance(_value, str):
        for _parts in map(str.split, _value):
            _PHRASES.setdefault(_name, {}).setdefault(_parts[0], []).append(_parts)
# Compared by stems: "humming" is a fault because "hum" is.
_STEMS = {name: frozenset(map(stem, WORD_LISTS[name])) for name in ("faults", "functions")}


class Word(NamedTuple):
    """Hold one word or mark. text: lower case; start, end: offsets.

    lists: the lists it is in. verb: for a "not" or "-n't" the lists of the verb that it denies. is_cue: it
    denies what follows.
    """

    text: str
    start: int
    end: int
    lists: frozenset[str] = frozenset()
    verb: frozenset[str] = frozenset()
    is_mark: bool = False
    is_cue: bool = False

    @property
    def negated(self) -> bool:
        """Tell whether it ends in "-n't"."""
        return self.text.endswith("n't")

    def among(self, *names: str) -> bool:
        """Tell whether it is in one of some lists."""
        return not self.lists.isdisjoint(names)


def phrase_at(name: str, words: Sequence[Word], place: int) -> int:
    """Return how many words the longest phrase of a list that starts at a place has, 0 if none."""
    longest, firsts = 0, _PHRASES[name]
    for first in (words[place].text, *(f"<{each}>" for each in words[place].lists)):
        for parts in firsts.get(first, ()):
            said = words[place : place + len(parts)]
            if len(parts) > longest and len(said) == len(parts) and all(map(_fits, parts, said)):
                longest = len(parts)
    return longest


def _fits(part: str, word: Word) -> bool:
    return part[1:-1] in word.lists if part.startswith("<") else part == word.text


@lru_cache(maxsize=10_000)
def lists_of(text: str) -> frozenset[str]:
    """Return the names of the lists that a word is in, and of what its form tells.

    years: "2019". in_s: it may be a plural or a verb. verbal: it may be a verb. people's: the genitive.
    """
    found = {name for name, words in WORD_LISTS.items() if text in words and name not in _STEMS}
    found.update([name for name, stems in _STEMS.items() if stem(text) in stems][:1])
    if text.endswith("'s"):
        found.update(f"{name}'s" for name in ("people", "others") if text[:-2] in WORD_LISTS[name])
    if _YEAR.fullmatch(text):
        found.add("years")
    if len(text) > 3 and text.endswith("s") and not text.endswith(("ss", "us")):
        found.add("in_s")
    if "finite" in found or (len(text) > 3 and text.endswith(("s", "ed")) and "'" not in text):
        found.add("verbal")
    return frozenset(found)


def cut_words(text: str, meant: Callable[[str], str] = str) -> list[Word]:
    """Return the words and marks of a text in order, with an empty mark before and after them.

    "Dont" and "do not" become "don't"; "free of" is one "without".

    Args:
        text: what was said.
        meant: tells what a word stands for that may be misspelt.
    """
    words = [Word("", 0, 0, is_mark=True)]
    for match in _WORD.finditer(text):
        start, end = match.span()
        if match["negated"]:
            helper = match["helper"].lower().replace("can", "ca")
            lists = lists_of(f"{helper}n't") | {"finite", "verbal", "verb_cues"}
            words.append(Word(f"{helper}n't", start, end, lists, lists_of(helper), is_cue=True))
            continue
        said = match.group().lower().translate(_APOSTROPHES)
        said = said if match["mark"] else meant(said)
        lists = lists_of(said)
        is_cue = not lists.isdisjoint(("verb_cues", "noun_cues"))
        before = words[-2] if len(words) > 1 and words[-1].text.endswith("ly") else words[-1]
        verb = before.lists if lists & {"verb_cues"} or said == "neither" else frozenset[str]()
        words.append(Word(said, start, end, lists, verb, bool(match["mark"]), is_cue))
    words.append(Word("", len(text), len(text), is_mark=True))
    return _with_phrases_joined(words)


def _with_phrases_joined(words: Sequence[Word]) -> list[Word]:
    """Return the words with every phrase that denies as one cue: "free of", "rarely if ever"."""
    joined: list[Word] = []
    place = 0
    while place < len(words):
        word = words[place]
        for cue in ("without", "instead", "never"):
            length = phrase_at(cue, words, place)
            if length and not phrase_at("cleared", words, place - 1):  # "it was ruled out"
                word = Word(cue, word.start, words[place + length - 1].end, lists_of(cue), is_cue=True)
                place += length - 1
                break
        joined.append(word)
        place += 1
    return joined
