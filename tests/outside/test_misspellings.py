"""The lexicon against codespell's dictionary of real misspellings (Debian and PyPI package codespell).

The dictionary is read where codespell is installed. The lexicon holds every correction of four letters or
more; a fixed sample of the misspellings is looked up. tests/benchmarks/misspellings.py runs all of them.
"""

import random

import pytest

from search.reading.concepts import default_finder
from search.reading.spelling import Lexicon, spelling_for
from search.reading.text import stem
from search.reading.word_lists import is_english
from tests.benchmarks.misspellings import misspellings

SAMPLE = 1500
SEED = 7121


@pytest.fixture(scope="module")
def pairs() -> list[tuple[str, str]]:
    return misspellings()


@pytest.fixture(scope="module")
def lexicon(pairs: list[tuple[str, str]]) -> Lexicon:
    return Lexicon(dict.fromkeys((right for _, right in pairs), 1))


def test_misspellings_are_as_many_as_codespell_lists(pairs: list[tuple[str, str]]) -> None:
    # codespell 2.4.3 (pinned): 57,627 pairs and 13,837 words, counted by tests/benchmarks/misspellings.py
    assert len(pairs) > 57_000
    assert 13_000 < len({right for _, right in pairs}) < 15_000


def test_misspellings_find_the_right_word_first(pairs: list[tuple[str, str]], lexicon: Lexicon) -> None:
    first = three = 0
    for wrong, right in random.Random(SEED).sample(pairs, SAMPLE):
        guesses = [word for word, _ in lexicon.ranked(wrong, max_edits=3)]
        first += guesses[:1] == [right]
        three += right in guesses[:3]
    assert first >= 0.95 * SAMPLE
    assert three >= 0.98 * SAMPLE


def test_spelling_finds_general_words_and_bends_few_to_the_trade(pairs: list[tuple[str, str]]) -> None:
    spelling = spelling_for(default_finder(), None)
    right = wrong = total = 0
    for said, meant in random.Random(SEED).sample(pairs, SAMPLE):
        if is_english(meant) and not spelling.knows(said):
            total += 1
            guesses = [stem(guess.word) for guess in spelling.guesses(said)]
            right += guesses[:1] == [stem(meant)]
            wrong += bool(guesses) and guesses[0] != stem(meant)
    assert total > 0.75 * SAMPLE
    assert right >= 0.75 * total
    assert wrong <= 0.05 * total
