"""The words that reading knows: the small lists of words.toml, and general English.

No word of general English is taken for a misspelt word of the trade. The list is the frequency dictionary of
the package symspellpy: 82,834 words of a spelling list, the commonest in scanned books first. Only the file
is read, nothing is imported.
"""

from collections.abc import Mapping
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from string import ascii_lowercase

from kb.files import own_toml

_RANK_OF_SHORT_FORMS = 1000  # of "doesn't" and the like, which the file does not count; chosen by us
_COMMONEST = 2000  # words so common that one alone tells nothing; chosen by us
_WORDS_FILE = "frequency_dictionary_en_82_765.txt"


@cache
def word_lists() -> Mapping[str, Mapping[str, str]]:
    """Return every list by section and name: words separated by spaces, names by commas, or a pattern."""
    return own_toml(__file__, "words.toml")


def word_sets(section: str) -> dict[str, frozenset[str]]:
    """Return the lists of a section as sets, by name."""
    return {name: frozenset(words.split()) for name, words in word_lists()[section].items()}


def folder_of(package: str) -> Path | None:
    """Return the folder of a package without importing it; None when it is not installed."""
    spec = find_spec(package)
    folders = spec.submodule_search_locations if spec is not None else None
    return Path(next(iter(folders))) if folders else None


def is_english(word: str) -> bool:
    """Tell whether a word, in lower case, is general English."""
    return word in _ranks()


def is_common(word: str) -> bool:
    """Tell whether a word, in lower case, is among the commonest of general English, such as "good"."""
    return _ranks().get(word, _COMMONEST) < _COMMONEST


def near_words(word: str) -> dict[str, int]:
    """Return the words one edit away, each with its rank by frequency, 0 for the commonest."""
    halves = [(word[:place], word[place:]) for place in range(len(word) + 1)]
    edited = {start + end[1:] for start, end in halves}
    edited.update(start + end[1] + end[0] + end[2:] for start, end in halves if len(end) > 1)
    edited.update(start + letter + end for start, end in halves for letter in ascii_lowercase)
    edited.update(start + letter + end[1:] for start, end in halves for letter in ascii_lowercase)
    ranks = _ranks()
    return {other: ranks[other] for other in edited & ranks.keys() if other != word}


@cache
def _ranks() -> Mapping[str, int]:
    """Return the rank of every word by frequency, 0 for the commonest."""
    folder = folder_of("symspellpy")
    if folder is None:
        return {}  # the package is missing: then every unknown word may be corrected
    words = (folder / _WORDS_FILE).read_text(encoding="utf-8-sig").split()[::2]
    unmarked = {word.replace("'", ""): _RANK_OF_SHORT_FORMS for word in words if "'" in word}
    return unmarked | dict(zip(words, range(len(words)), strict=True))  # "doesnt" is as good as "doesn't"
