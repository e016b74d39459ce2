"""Everyday words are known, in any form, and no word that tells of blinks is among the misspelt."""

from __future__ import annotations

import pytest

from search.reading.complaint import read_complaint
from search.reading.everyday import is_everyday
from search.reading.lexicon import Lexicon


@pytest.mark.parametrize("word", ["wife", "neighbours", "Kitchen", "small", "must", "laughed"])
def test_everyday_knows_what_people_say(word: str) -> None:
    assert is_everyday(word)


@pytest.mark.parametrize("word", ["capacitor", "flahses", "capasitor", "moniter", ""])
def test_everyday_knows_neither_trade_words_nor_misspellings(word: str) -> None:
    assert not is_everyday(word)


def test_everyday_words_are_not_bent_even_where_no_note_has_them() -> None:
    lexicon = Lexicon({"smell": 30, "wifi": 9, "hear": 12})
    assert read_complaint("my wife has a small one for a year", lexicon=lexicon).instead_of == {}
    assert read_complaint("there is a smel", lexicon=lexicon).instead_of == {"smel": "smell"}
