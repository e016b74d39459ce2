"""Know the words of general English, so that none of them is taken for a misspelt word of the trade.

The list is the frequency dictionary of the package symspellpy: 82,834 words, the commonest first, counted in
scanned books and cut down to those of a spelling list. Only the file is read, nothing is imported.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Mapping
from functools import cache
from pathlib import Path

_WORDS_FILE = "frequency_dictionary_en_82_765.txt"


def is_english(word: str) -> bool:
    """Return whether a word, in lower case, is one of general English."""
    return word in _ranks()


@cache
def _ranks() -> Mapping[str, int]:
    """Return the place of every word in the order of frequency, 0 for the commonest."""
    spec = importlib.util.find_spec("symspellpy")
    if spec is None or not spec.submodule_search_locations:
        return {}  # installed without its dependencies: every unknown word may be bent, as a last resort
    path = Path(next(iter(spec.submodule_search_locations))) / _WORDS_FILE
    pairs = path.read_text(encoding="utf-8-sig").split()
    return dict(zip(pairs[::2], range(len(pairs)), strict=False))
