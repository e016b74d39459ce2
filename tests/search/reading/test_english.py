"""Words of general English are known in any form, and no word of them is bent towards one of the trade."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from search.reading.complaint import read_complaint
from search.reading.concepts import default_finder
from search.reading.spelling import Lexicon, spelling_for
from search.reading.word_lists import is_english, near_words, word_lists


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


LEXICON = Lexicon(dict.fromkeys(sorted(default_finder().words), 50))


@given(word=st.text("abcdefghijklmnoprstuwy", min_size=3, max_size=6), place=st.integers(min_value=0))
def test_english_words_are_never_replaced(word: str, place: int) -> None:
    known = sorted(near_words(word))
    if known:
        chosen = known[place % len(known)]
        assert is_english(chosen)
        assume(chosen not in " ".join(word_lists()["informal"].values()).split())
        assert spelling_for(default_finder(), LEXICON).guesses(chosen) == ()
        assert read_complaint(f"the {chosen} thing", lexicon=LEXICON).instead_of == {}


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        pytest.param("swiching", "switching", id="a-word-of-the-trade"),
        pytest.param("swiming", "swimming", id="a-word-of-general-english"),
        pytest.param("dosnt", "doesnt", id="short-form-without-apostrophe"),
        pytest.param("capasitor", "capacitor", id="trade-before-general"),
    ],
)
def test_spelling_takes_an_unknown_word_for_the_one_that_fits_best(said: str, meant: str) -> None:
    assert spelling_for(default_finder(), None).guesses(said)[0].word == meant


@pytest.mark.parametrize(
    ("said", "meant"), [("nite", "night"), ("2nite", "tonight"), ("brite", "bright"), ("tho", "though")]
)
def test_spelling_knows_what_hurried_owners_write(said: str, meant: str) -> None:
    reading = read_complaint(f"{said} it hums")
    assert reading.instead_of == {said: meant}
    assert reading.concepts == ("hum",)


@pytest.mark.parametrize(
    ("said", "denied"),
    [("it dnt hum, nuthin rattles", ["hum", "rattles"]), ("no hum tho it rattles", ["hum"])],
)
def test_denials_are_found_in_hurried_spelling(said: str, denied: list[str]) -> None:
    assert [said[start:end] for start, end in read_complaint(said).denied] == denied


def test_spelling_leaves_a_word_that_is_near_to_nothing() -> None:
    assert read_complaint("the zxqvorp is loud").not_understood == ("zxqvorp",)


@pytest.mark.parametrize("said", ["it swiched of by itslef", "goes of after an hour", "it turned of"])
def test_spelling_takes_of_for_off_after_a_verb_of_switching(said: str) -> None:
    assert "shuts down" in read_complaint(said).concepts


def test_spelling_leaves_of_elsewhere() -> None:
    assert read_complaint("a turn of the knob, the noise of water").instead_of == {}


def test_spelling_takes_a_small_word_before_a_rare_device() -> None:
    assert spelling_for(default_finder(), None).guesses("wich")[0].word == "which"
