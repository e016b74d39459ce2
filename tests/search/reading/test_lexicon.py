"""Misspelt words are bent towards the notes' own words, well-known ones are left alone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz.distance import OSA

from search.reading.concepts import default_finder
from search.reading.spelling import Lexicon, slip_score, spelling_for

WORDS = {
    "capacitor": 40, "capacitors": 22, "flashes": 60, "turn": 30, "tuner": 6, "picture": 80, "screen": 70,
    "relay": 12, "replay": 2, "fuse": 25, "hum": 9, "bearing": 7, "clacker": 1, "cracker": 300,
}  # fmt: skip
SPELLING = spelling_for(default_finder(), Lexicon(WORDS))


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        pytest.param("capasitor", "capacitor", id="one-letter"),
        pytest.param("flahses", "flashes", id="neighbours-swapped"),
        pytest.param("trun", "turn", id="four-letters-one-edit"),
        pytest.param("pictuer", "picture", id="swapped-at-the-end"),
        pytest.param("capasitorr", "capacitor", id="two-edits-from-eight-letters"),
        pytest.param("batry", "battery", id="two-letters-missed-in-five"),
        pytest.param("warter", "water", id="what-owners-say-more-often"),
        pytest.param("moter", "motor", id="an-or-for-an-er"),
        pytest.param("extracter", "extractor", id="an-or-with-the-stem-of-another-word"),
    ],
)
def test_spelling_offers_the_word_that_was_meant(typed: str, meant: str) -> None:
    nearest = SPELLING.guesses(typed)[0]
    assert nearest.word == meant
    assert 0 < nearest.weight < 1


@pytest.mark.parametrize(
    "typed",
    [
        pytest.param("hxn", id="three-letters"),
        pytest.param("picture", id="known"),
        pytest.param("pictures", id="another-form-of-a-known-word"),
        pytest.param("clacker", id="known-to-one-note"),
        pytest.param("", id="nothing"),
    ],
)
def test_spelling_leaves_a_word_alone(typed: str) -> None:
    assert SPELLING.guesses(typed) == ()


def test_spelling_offers_further_guesses_at_less_weight() -> None:
    weights = [guess.weight for guess in SPELLING.guesses("steem")]
    assert len(weights) > 1
    assert weights == sorted(weights, reverse=True)


def test_lexicon_breaks_a_dead_heat_by_frequency_then_alphabet() -> None:
    assert Lexicon({"cart": 2, "card": 9}).ranked("carx", max_edits=1)[0] == ("card", 1)
    assert Lexicon({"carq": 3, "carj": 3}).ranked("carx", max_edits=1)[0] == ("carj", 1)


def test_lexicon_forgets_words_that_no_note_has_left() -> None:
    lexicon = Lexicon({"relay": 0, "fuse": 3})
    assert not lexicon.knows("relay")
    assert lexicon.knows("fuse")


# Optimal string alignment, as in tests/outside: teh/the one swap, CA/ABC three (Boytsov 2011, section 2.2.2).
@pytest.mark.parametrize(
    ("typed", "other", "distance"), [("teh", "the", 1), ("ca", "abc", 3), ("kitten", "sitting", 3)]
)
def test_lexicon_counts_edits_by_optimal_string_alignment(typed: str, other: str, distance: int) -> None:
    assert Lexicon({other: 1}).ranked(typed, max_edits=distance) == [(other, distance)]
    assert Lexicon({other: 1}).ranked(typed, max_edits=distance - 1) == []


letters = st.text(alphabet="abcde", min_size=1, max_size=9)


@given(words=st.sets(letters, max_size=12), typed=letters, edits=st.integers(1, 3))
def test_lexicon_finds_just_the_words_within_reach(words: set[str], typed: str, edits: int) -> None:
    ranked = Lexicon(dict.fromkeys(words, 1)).ranked(typed, max_edits=edits)
    within = {(word, OSA.distance(typed, word)) for word in words - {typed}}
    assert set(ranked) == {(word, distance) for word, distance in within if distance <= edits}


@pytest.mark.parametrize(
    ("typed", "likelier", "other"),
    [
        pytest.param("occured", "occurred", "obscured", id="a-double-letter-missed"),
        pytest.param("recieve", "receive", "relieve", id="neighbours-swapped"),
        pytest.param("seperate", "separate", "desperate", id="a-vowel-for-a-vowel"),
        pytest.param("definate", "definite", "deflate", id="a-vowel-not-two-consonants"),
    ],
)  # fmt: skip
def test_slips_that_people_make_are_likelier(typed: str, likelier: str, other: str) -> None:
    assert slip_score(typed, likelier) < slip_score(typed, other)


@given(letters, letters)
def test_slips_cost_nothing_for_the_word_itself_and_more_for_any_other(typed: str, meant: str) -> None:
    own = slip_score(typed, typed)
    assert slip_score(typed, meant) == own if typed == meant else slip_score(typed, meant) > own
