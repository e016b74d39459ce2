"""Words of general English are known in any form, and no word of them is bent towards one of the trade."""

from __future__ import annotations

import pytest

from search.reading.complaint import read_complaint
from search.reading.english import is_english
from search.reading.lexicon import Lexicon


@pytest.mark.parametrize("word", ["wife", "neighbours", "kitchen", "mower", "stitches", "laughed", "colour"])
def test_english_knows_what_people_say(word: str) -> None:
    assert is_english(word)


@pytest.mark.parametrize("word", ["flahses", "capasitor", "moniter", "itslef", ""])
def test_english_knows_no_misspellings(word: str) -> None:
    assert not is_english(word)


def test_english_words_are_not_bent_even_where_no_note_has_them() -> None:
    lexicon = Lexicon({"smell": 30, "wifi": 9, "hear": 12, "better": 90, "power": 80, "switches": 7})
    said = "my wife has a small one for a year, the bitter smoke of a mower, sewing stitches by the porthole"
    assert read_complaint(said, lexicon=lexicon).instead_of == {}
    assert read_complaint("there is a smel", lexicon=lexicon).instead_of == {"smel": "smell"}
