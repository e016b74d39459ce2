"""Know the words of general English, so that none of them is taken for a misspelt word of the trade.

The list is the frequency dictionary of the package symspellpy: 82,834 words, the commonest first, counted in
scanned books and cut down to those of a spelling list. Only the file is read, nothing is imported.
"""

from collections.abc import Mapping
from functools import cache
from string import ascii_lowercase

from search.reading.word_lists import folder_of

_RANK_OF_SHORT_FORMS = 1000  # the file has "doesn't" and the like uncounted; chosen by us
_COMMONEST = 2000  # words of which one alone tells nobody anything; chosen by us
_WORDS_FILE = "frequency_dictionary_en_82_765.txt"


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
