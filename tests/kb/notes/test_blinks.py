"""Blink patterns: every sensible spelling of one that was recorded, and one canonical spelling."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.notes.blinks import MOST_BLINKS, BlinkPattern, Group
from tests.kb.made_up_notes import patterns, unhurried


@pytest.mark.parametrize(("said", "written"), [
    pytest.param("6", "6", id="count"),
    pytest.param("six", "6", id="count-in-a-word"),
    pytest.param("6x", "6", id="times-sign"),
    pytest.param("6 \u00d7", "6", id="multiplication-sign"),
    pytest.param("six flashes", "6", id="flashes"),
    pytest.param("Blinks twice", "2", id="twice"),
    pytest.param("half a dozen", "6", id="half-a-dozen"),
    pytest.param("a couple of blinks", "2", id="a-couple"),
    pytest.param("2+3", "2+3", id="groups"),
    pytest.param("2 + 3", "2+3", id="groups-with-blanks"),
    pytest.param("2 then 3", "2+3", id="then"),
    pytest.param("2, pause, 3", "2+3", id="pause"),
    pytest.param("1+2+3", "1+2+3", id="three-groups"),
    pytest.param("2 long + 3 short", "2 long + 3 short", id="lengths"),
    pytest.param("two long three short", "2 long + 3 short", id="lengths-side-by-side"),
    pytest.param("2 long, 3 short", "2 long + 3 short", id="lengths-with-comma"),
    pytest.param("2L+3S", "2 long + 3 short", id="lengths-as-letters"),
    pytest.param("3 or 4", "3 or 4", id="doubt"),
    pytest.param("4 or 3", "3 or 4", id="doubt-is-sorted"),
    pytest.param("3, 4 or 5", "3 or 4 or 5", id="three-ways"),
    pytest.param("3 to 5", "3 or 4 or 5", id="from-to"),
    pytest.param("2+3 or 2+4", "2+3 or 2+4", id="doubt-between-groups"),
    pytest.param("about 6", "about 6", id="about"),
    pytest.param("6?", "about 6", id="question-mark"),
    pytest.param("~6", "about 6", id="tilde"),
    pytest.param("3 or maybe 4", "about 3 or 4", id="maybe"),
    pytest.param("6 red", "6 red", id="colour"),
    pytest.param("red 6x", "6 red", id="colour-first"),
    pytest.param("3 blinks, amber", "3 amber", id="colour-behind-comma"),
    pytest.param("2 long + 3 short green", "2 long + 3 short green", id="lengths-and-colour"),
])  # fmt: skip
def test_pattern_is_read(said: str, written: str) -> None:
    assert str(BlinkPattern.parse(said)) == written


@pytest.mark.parametrize("said", ["2-3", "2/3", "2\u20133", "2, 3", "2 - 3 red"])
def test_pattern_with_two_meanings_is_refused(said: str) -> None:
    with pytest.raises(ValueError, match='write "2\\+3" for groups with a pause between, or "2 or 3"'):
        BlinkPattern.parse(said)


@pytest.mark.parametrize(
    "said",
    [
        "",
        "0",
        "61",
        "steady",
        "continuous",
        "2 2",
        "+3",
        "3 or",
        "or 3",
        "5 to 2",
        "1 to 9",
        "long",
        "3 long long",
    ],
)
def test_pattern_refused_says_what_to_write(said: str) -> None:
    with pytest.raises(ValueError, match='write a count "6"'):
        BlinkPattern.parse(said)


def test_pattern_with_two_colours_is_refused() -> None:
    with pytest.raises(ValueError, match="one colour"):
        BlinkPattern.parse("3 red + 2 green")


def test_patterns_with_the_same_meaning_are_one_key() -> None:
    assert (
        len({BlinkPattern.parse(said) for said in ("3 or 4", "4 or 3", "3 to 4", "three or four flashes")})
        == 1
    )


def test_most_blinks_is_the_end() -> None:
    assert Group(MOST_BLINKS).count == 60
    with pytest.raises(ValueError, match="from 1 to 60"):
        Group(MOST_BLINKS + 1)


@given(patterns)
@unhurried(200)
def test_pattern_written_is_read_back(pattern: BlinkPattern) -> None:
    assert BlinkPattern.parse(str(pattern)) == pattern


@given(st.text("0123456789 +-,/?~xlsorabut pauselongtgren", max_size=20))
@unhurried(200)
def test_pattern_read_from_anything_is_written_and_read_back(said: str) -> None:
    try:
        pattern = BlinkPattern.parse(said)
    except ValueError:
        return
    assert BlinkPattern.parse(str(pattern)) == pattern
