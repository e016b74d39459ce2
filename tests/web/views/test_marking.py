"""Matches are marked on the server, and everything else is escaped."""

import pytest
from markupsafe import escape

from kb.terms import load_vocabulary
from search.reading.concepts import ConceptFinder
from web.views.marking import mark

FINDER = ConceptFinder(load_vocabulary())


@pytest.mark.parametrize(
    ("text", "terms", "shown"),
    [
        pytest.param("Fuse blown", {"fuse"}, "<mark>Fuse</mark> blown", id="word"),
        pytest.param("three fuses", {"fuse"}, "three <mark>fuses</mark>", id="same-stem"),
        pytest.param("it is dead", {"=no power"}, "it is <mark>dead</mark>", id="concept"),
        pytest.param("5 < 6 & fuse", {"fuse"}, "5 &lt; 6 &amp; <mark>fuse</mark>", id="escaped-outside"),
        pytest.param("nothing", set(), "nothing", id="no-terms"),
        pytest.param("", {"fuse"}, "", id="no-text"),
    ],
)
def test_mark_shows_matches(text: str, terms: set[str], shown: str) -> None:
    assert str(mark(text, terms=terms, finder=FINDER)) == shown


def test_mark_never_lets_a_note_write_html() -> None:
    text = "<script>alert(1)</script> fuse <img src=x onerror=alert(1)>"
    shown = str(mark(text, terms={"fuse", "script", "img"}, finder=FINDER))
    bare = shown.replace("<mark>", "").replace("</mark>", "")
    assert bare == str(escape(text))
    assert "<mark>fuse</mark>" in shown
