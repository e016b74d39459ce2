"""Cut a text into words and marks, each with the lists of denial.toml that it is in, and find phrases."""

import re
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

from kb.files import own_toml
from search.reading.text import Token, stem

_APOSTROPHES = str.maketrans("\u2019\u02bc`", "'''")
SENTENCE_ENDS = frozenset((*".!?\n\u2026", ""))

_TABLES = own_toml(__file__, "denial.toml")
_WORD = re.compile(_TABLES.pop("words")["pattern"], re.VERBOSE | re.IGNORECASE)
_LISTS = {name: value for table in _TABLES.values() for name, value in table.items()}
WORD_LISTS = {name: frozenset(value.split()) for name, value in _LISTS.items() if isinstance(value, str)}
# By list, then by first word or list of first words. A part such as "<months>" stands for any word of that
# list, "*" for any word.
_PHRASES: dict[str, tuple[dict[str, list[list[str]]], ...]] = {}
for _name, _value in _LISTS.items():
    if not isinstance(_value, str):
        for _parts in map(str.split, _value):
            _by_first = _PHRASES.setdefault(_name, ({}, {}))[_parts[0].startswith("<")]
            _by_first.setdefault(_parts[0].strip("<>"), []).append(_parts)
# Compared by stems: "humming" is a fault because "hum" is.
_STEMS = {name: frozenset(map(stem, WORD_LISTS[name])) for name in ("faults", "functions")}


class Word(NamedTuple):
    """Hold one word or mark: lower case, where it stands, and the lists it is in."""

    text: str
    start: int
    end: int
    lists: frozenset[str]

    def among(self, *names: str) -> bool:
        """Tell whether it is in one of some lists."""
        return not self.lists.isdisjoint(names)

    @property
    def is_mark(self) -> bool:
        """Tell whether it is a mark, or an end of the text."""
        return "marks" in self.lists

    @property
    def is_cue(self) -> bool:
        """Tell whether it denies what follows."""
        return self.among("verb_cues", "noun_cues")


def phrase_at(name: str, words: Sequence[Word], place: int) -> int:
    """Return the length in words of the longest phrase of a list at a place, 0 for none."""
    (by_word, by_list), (text, _, _, lists) = _PHRASES[name], words[place]
    if text not in by_word and by_list.keys().isdisjoint(lists):
        return 0  # as nearly everywhere
    phrases = [*by_word.get(text, ()), *(parts for each in lists for parts in by_list.get(each, ()))]
    fitting = (each for each in phrases if all(map(_fits, each, words[place : place + len(each)])))
    return max(map(len, fitting), default=0)


def phrase_about(name: str, words: Sequence[Word], place: int) -> bool:
    """Tell whether a word is in a phrase of a list that starts at most two words before it."""
    return any(start + phrase_at(name, words, start) > place for start in range(max(place - 2, 0), place + 1))


def _fits(part: str, word: Word) -> bool:
    return part[1:-1] in word.lists if part.startswith("<") else part in (word.text, "*")


_MARK = frozenset(("marks",))


def _denied(lists: frozenset[str]) -> frozenset[str]:
    """Return the list names for a verb with "not" after it: "not_being" for "is" (being).

    Of a "not" after a "not" there are none: a thousand in a row would be in a thousand lists each.
    """
    return frozenset(f"not_{name}" for name in lists if not name.startswith("not_"))


@lru_cache(maxsize=10_000)
def lists_of(text: str) -> frozenset[str]:
    """Return the names of the lists that a word is in, and what its form tells.

    years: "2019". in_s: it may be a plural or a verb. verbal: it may be a verb. people's: the genitive.
    """
    found = {name for name, words in WORD_LISTS.items() if text in words and name not in _STEMS}
    found.update([name for name, stems in _STEMS.items() if stem(text) in stems][:1])
    if text.endswith("'s"):
        found.update(f"{name}'s" for name in ("people", "others") if text[:-2] in WORD_LISTS[name])
    if text.isdigit():
        found.add("years" if len(text) == 4 else "digits")
    if text.endswith("s"):
        found.add("in_s")
    if text.endswith("n't"):
        found |= {"finite", "verb_cues", "negated", *_denied(lists_of(text.removesuffix("n't")))}
    if "finite" in found or text.endswith(("s", "ed")):
        found.add("verbal")
    return frozenset(found)


def cut_words(text: str, meant: Callable[[str], str] = str, codes: Sequence[Token] = ()) -> list[Word]:
    """Return the words and marks of a text in order, with an empty mark before and after them.

    "Dont" and "do not" become "don't"; "free of" becomes "without". meant: returns what a possibly misspelt
    word stands for. codes: fault codes, each of which is a fault.
    """
    words = [Word("", 0, 0, _MARK)]
    for match in _WORD.finditer(text):
        if match["negated"]:
            said = f"{match['helper'].lower().replace('can', 'ca')}n't"
            lists = lists_of(said)
        elif match["mark"]:
            said, lists = match.group(), lists_of(match.group()) | _MARK
        else:
            said = meant(match.group().lower().translate(_APOSTROPHES))
            lists = lists_of(said)
            if any(code.start <= match.start() < code.end for code in codes):
                lists = lists_of("fault")
            if said in ("not", "neither"):
                lists |= _denied(words[-2 if words[-1].text.endswith("ly") else -1].lists)
        words.append(Word(said, *match.span(), lists))
    words.append(Word("", len(text), len(text), _MARK))
    return _with_phrases_joined(words)


def _with_phrases_joined(words: Sequence[Word]) -> list[Word]:
    """Return the words with each denying phrase joined to one cue: "free of", "rarely if ever"."""
    joined: list[Word] = []
    place = 0
    while place < len(words):
        word = words[place]
        for cue in ("without", "instead-of", "never"):
            length = phrase_at(cue, words, place)
            if length and not phrase_at("cleared", words, place - 1):  # "it was ruled out"
                word = Word(cue, word.start, words[place + length - 1].end, lists_of(cue))
                place += length - 1
                break
        joined.append(word)
        place += 1
    return joined
