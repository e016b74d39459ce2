"""Matches are marked on the server, and everything else is escaped."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import escape

from search.reading.concepts import default_finder
from search.reading.plain_form import terms_of
from search.reading.text import tokenise
from web.views.marking import mark, match_spans

WORDS = ["dead", "flashes", "won't", "turn", "on", "light", "sound", "but", "no", "picture", ".", "C833"]


@pytest.mark.parametrize(
    ("text", "terms", "shown"),
    [
        pytest.param("Three Flashes", {"flash"}, "Three <mark>Flashes</mark>", id="by-stem-as-spelled"),
        pytest.param("it is dead", {"=no power"}, "it is <mark>dead</mark>", id="idea"),
        pytest.param("It won't turn on", {"=no power"}, "It <mark>won&#39;t turn on</mark>", id="long-idea"),
        pytest.param("won't turn on", {"turn", "=no power"}, "<mark>won&#39;t turn on</mark>", id="within"),
        pytest.param("dead, dead", {"dead"}, "<mark>dead</mark>, <mark>dead</mark>", id="every-place"),
        pytest.param("flashes", {"flash", "=blinking light"}, "<mark>flashes</mark>", id="idea-and-word"),
        pytest.param("5 < 6 & fuse", {"fuse"}, "5 &lt; 6 &amp; <mark>fuse</mark>", id="escaped-outside"),
        pytest.param("quite another thing", {"flash"}, "quite another thing", id="nothing-in-common"),
        pytest.param("nothing", set(), "nothing", id="no-terms"),
        pytest.param("", {"fuse"}, "", id="no-text"),
    ],
)
def test_mark_shows_matches(text: str, terms: set[str], shown: str) -> None:
    assert str(mark(text, terms=terms, finder=default_finder())) == shown


def test_mark_never_lets_a_note_write_html() -> None:
    text = "<script>alert(1)</script> fuse <img src=x onerror=alert(1)>"
    shown = str(mark(text, terms={"fuse", "script", "img"}, finder=default_finder()))
    bare = shown.replace("<mark>", "").replace("</mark>", "")
    assert bare == str(escape(text))
    assert "<mark>fuse</mark>" in shown


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
