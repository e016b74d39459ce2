"""The words that reading knows: the small lists of words.toml, and those of general English.

None of the latter is taken for a misspelt word of the trade. They are the frequency dictionary of the package
symspellpy: 82,834 words, the commonest first, counted in scanned books and cut down to those of a spelling
list. Only the file is read, nothing is imported.
"""

from collections.abc import Mapping
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from string import ascii_lowercase

from kb.files import own_toml

_RANK_OF_SHORT_FORMS = 1000  # the file has "doesn't" and the like uncounted; chosen by us
_COMMONEST = 2000  # words of which one alone tells nobody anything; chosen by us
_WORDS_FILE = "frequency_dictionary_en_82_765.txt"


@cache
def word_lists() -> Mapping[str, Mapping[str, str]]:
    """Return every list by section and name: words parted by spaces, names by commas, or a pattern."""
    return own_toml(__file__, "words.toml")


def word_sets(section: str) -> dict[str, frozenset[str]]:
    """Return the lists of a section as sets, by name."""
    return {name: frozenset(words.split()) for name, words in word_lists()[section].items()}


def folder_of(package: str) -> Path | None:
    """Return the folder of an installed package, None where it is not installed; nothing is imported."""
    spec = find_spec(package)
    folders = spec.submodule_search_locations if spec is not None else None
    return Path(next(iter(folders))) if folders else None


def is_english(word: str) -> bool:
    """Return whether a word, in lower case, is one of general English."""
    return word in _ranks()


def is_common(word: str) -> bool:
    """Return whether a word, in lower case, is among the commonest of general English, such as "good"."""
    return _ranks().get(word, _COMMONEST) < _COMMONEST


def near_words(word: str) -> dict[str, int]:
    """Return the words one edit away, each with its place in the order of frequency, 0 for the commonest."""
    halves = [(word[:place], word[place:]) for place in range(len(word) + 1)]
    edited = {start + end[1:] for start, end in halves}
    edited.update(start + end[1] + end[0] + end[2:] for start, end in halves if len(end) > 1)
    edited.update(start + letter + end for start, end in halves for letter in ascii_lowercase)
    edited.update(start + letter + end[1:] for start, end in halves for letter in ascii_lowercase)
    ranks = _ranks()
    return {other: ranks[other] for other in edited & ranks.keys() if other != word}


@cache
def _ranks() -> Mapping[str, int]:
    """Return the place of every word in the order of frequency, 0 for the commonest."""
    folder = folder_of("symspellpy")
    if folder is None:
        return {}  # installed without its dependencies: every unknown word may be bent, as a last resort
    words = (folder / _WORDS_FILE).read_text(encoding="utf-8-sig").split()[::2]
    unmarked = {word.replace("'", ""): _RANK_OF_SHORT_FORMS for word in words if "'" in word}
    return unmarked | dict(zip(words, range(len(words)), strict=True))  # "doesnt" is as good as "doesn't"
