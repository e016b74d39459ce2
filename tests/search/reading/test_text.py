"""Texts become words the same way for notes and for complaints."""

from itertools import pairwise
from string import printable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.reading.text import codes_told, is_stop_word, stem, tokenise, tokenise_quickly, words_of


@pytest.mark.parametrize(
    ("text", "stems"),
    [
        pytest.param(
            "the T-con, tcon, T\u2011con", ["the", "tcon", "tcon", "tcon"], id="one-letter-compound"
        ),
        pytest.param("Q801 20N60C3 4R7", ["q801", "20n60c3", "4r7"], id="part-numbers"),
        pytest.param("3.3V 3.3 V 3,3 V 3.3\u00a0V", ["3.3v"] * 4, id="volts-however-spaced"),
        pytest.param("470 µF 470uF 470 \u03bcF", ["470uf"] * 3, id="micro-in-three-spellings"),
        pytest.param("0.4 ohm 0.4Ω 0.4 ohms", ["0.4ohm"] * 3, id="ohms"),
        pytest.param("12 volts 12-volt 12V", ["12v"] * 3, id="volts-in-words"),
        pytest.param("1,200 V", ["1200v"], id="thousands"),
        pytest.param("HV-43L2 hv43l2", ["hv43l2", "hv43l2"], id="model-name"),
        pytest.param("won't won\u2019t", ["wont", "wont"], id="apostrophes"),
        pytest.param("the owner's set", ["the", "owner", "set"], id="possessive"),
        pytest.param("ferry-dropped", ["ferri", "drop"], id="other-compounds-fall-apart"),
        pytest.param("4-5 or 2+3", ["4", "5", "or", "2", "3"], id="counts-fall-apart"),
        pytest.param("café cafe\u0301", ["cafe", "cafe"], id="accents"),
        pytest.param("6 amps, 6 a day", ["6", "amp", "6", "a", "day"], id="no-ampere-from-an-article"),
        pytest.param("", [], id="nothing"),
        pytest.param("?! -- \n", [], id="only-marks"),
    ],
)
def test_text_is_cut_into_stems(text: str, stems: list[str]) -> None:
    assert [token.stem for token in tokenise(text)] == stems


@pytest.mark.parametrize(
    "words",
    [
        pytest.param("flash flashes flashing flashed", id="flash"),
        pytest.param("capacitor capacitors", id="capacitor"),
        pytest.param("noise noises noisy", id="noise"),
        pytest.param("colour color coloured", id="colour"),
        pytest.param("freeze froze frozen freezes", id="freeze"),
        pytest.param("burn burns burnt burned burning", id="burn"),
        pytest.param("stick sticks stuck", id="stick"),
        pytest.param("programme program programmes", id="programme"),
    ],
)
def test_text_stems_forms_of_one_word_alike(words: str) -> None:
    assert len({stem(word) for word in words.split()}) == 1


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("main", "mains"),
        ("crack", "crackly"),
        ("short", "shorted"),
        ("receive", "receiver"),
        ("sever", "several"),
    ],
)
def test_text_keeps_apart_what_the_bench_keeps_apart(one: str, other: str) -> None:
    assert stem(one) != stem(other)


# Worked examples of the Porter2 algorithm: https://snowballstem.org/algorithms/english/stemmer.html
@pytest.mark.parametrize(
    ("word", "stemmed"),
    [("consign", "consign"), ("consigned", "consign"), ("consolation", "consol"), ("consistency", "consist"),
     ("conspicuous", "conspicu"), ("knack", "knack"), ("knightly", "knight"), ("kneeling", "kneel")],
)  # fmt: skip
def test_text_stems_as_porter2_publishes(word: str, stemmed: str) -> None:
    assert stem(word) == stemmed


@given(st.text(max_size=200))
def test_text_offsets_point_at_the_words(text: str) -> None:
    tokens = tokenise(text)
    assert all(
        text[token.start : token.end].lower().replace("\u2019", "'")[:1] == token.text[:1] for token in tokens
    )
    assert all(one.end <= other.start for one, other in pairwise(tokens))
    assert all(0 < len(token.stem) <= 64 and " " not in token.stem for token in tokens)


@given(st.text(alphabet=printable, max_size=200))
def test_text_reads_small_and_capital_letters_alike(text: str) -> None:
    assert [token.stem for token in tokenise(text.upper())] == [
        token.stem for token in tokenise(text.lower())
    ]


def test_text_marks_where_a_sentence_breaks_but_not_at_a_comma() -> None:
    tokens = tokenise("dead. No lights, clicks (twice)\nthen off")
    assert [token.text for token in tokens if token.after_break] == ["no", "twice", "then"]


@pytest.mark.parametrize("word", ["the", "My", "isn't", "isnt", "i\u2019ve", "maybe", "times"])
def test_text_takes_story_words_for_stop_words(word: str) -> None:
    assert is_stop_word(word)


@pytest.mark.parametrize("word", ["dead", "light", "flashes", "hot", "left", "standby", "tv"])
def test_text_keeps_words_that_tell_of_a_fault(word: str) -> None:
    assert not is_stop_word(word)


def test_text_offers_plain_words_to_the_lexicon() -> None:
    text = "The T-con's 3.3V rail, Q801 and the caps: the caps leak. I won't"
    assert words_of(tokenise(text)) == {"the", "rail", "and", "caps", "leak"}


PIECES = st.sampled_from(
    ("fan", "B12", "5", "V", "12", "3.5", "1,200", "'s", "won't", "\u00e9", "T-con", "HV-4-2", " ", "\n",
     "-", "- ", "/", "/ ", ",", ".", "(", ")", "\t", "\u00a0", "\u2013", "\u2010", "x" * 70,
     " a line that is longer than most of the names that notes share ")
)  # fmt: skip


@given(st.lists(PIECES, max_size=12).map("".join))
def test_text_is_cut_alike_word_by_word_as_whole(text: str) -> None:
    quickly = [(token.text, token.stem, *token[4:]) for token in tokenise_quickly(text)]
    assert quickly == [(token.text, token.stem, *token[4:]) for token in tokenise(text)]


def test_text_cut_word_by_word_has_a_break_at_a_slash() -> None:
    text = "hums loudly/ clicks twice and then nothing more happens for the rest of the whole day"
    assert [token.text for token in tokenise_quickly(text) if token.after_break] == ["clicks"]


def test_fault_code_stands_where_it_is_told() -> None:
    text = "\u0130t shows E-18"  # the first letter has two in lower case
    (code,) = codes_told(text)
    assert (code.text, text[code.start : code.end]) == ("e18", "E-18")
