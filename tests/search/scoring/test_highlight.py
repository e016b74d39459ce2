"""What a page highlights in a note."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.reading.concepts import default_finder
from search.reading.plain_form import terms_of
from search.reading.text import tokenise
from search.scoring.highlight import match_spans


def spelled(text: str, terms: set[str]) -> list[str]:
    return [text[start:end] for start, end in match_spans(text, terms, default_finder())]


@pytest.mark.parametrize(
    ("text", "terms", "found"),
    [
        pytest.param("Three Flashes, then dark", {"flash"}, ["Flashes"], id="by-stem-as-spelled"),
        pytest.param(
            "It won't turn on at all", {"=no power"}, ["won't turn on"], id="idea-over-several-words"
        ),
        pytest.param("stone dead since noon", {"=no power"}, ["stone dead"], id="another-name-of-the-idea"),
        pytest.param("dead fan, dead light", {"dead"}, ["dead", "dead"], id="every-place"),
        pytest.param(
            "flashes and flashes", {"flash", "=blinking light"}, ["flashes"] * 2, id="idea-and-word"
        ),
        pytest.param("quite another thing", {"flash"}, [], id="nothing-in-common"),
        pytest.param("", {"flash"}, [], id="no-text"),
        pytest.param("Three flashes", set(), [], id="no-terms"),
    ],
)
def test_match_spans_found(text: str, terms: set[str], found: list[str]) -> None:
    assert spelled(text, terms) == found


def test_match_spans_join_where_a_word_stands_inside_an_idea() -> None:
    assert spelled("It won't turn on", {"turn", "=no power"}) == ["won't turn on"]


WORDS = ["dead", "flashes", "won't", "turn", "on", "light", "sound", "but", "no", "picture", ".", "C833"]


@given(
    st.lists(st.sampled_from(WORDS), max_size=12).map(" ".join), st.lists(st.sampled_from(WORDS), max_size=4)
)
def test_match_spans_ascend_apart_and_hold_what_was_searched(text: str, said: list[str]) -> None:
    finder = default_finder()
    terms = set(terms_of(tokenise(" ".join(said)), finder.concepts(tokenise(" ".join(said)))))
    spans = match_spans(text, terms, finder)
    assert all(0 <= start < end <= len(text) for start, end in spans)
    assert all(left[1] <= right[0] for left, right in pairwise(spans))
    assert bool(spans) == bool(terms & set(terms_of(tokenise(text), finder.concepts(tokenise(text)))))
