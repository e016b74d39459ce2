"""Markdown as HTML, and what must not come through.

The examples of CommonMark are named by their number in the specification 0.31.2, https://spec.commonmark.org/0.31.2/
(from memory, but for the sections they stand in).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.notes.rendering import render_markdown
from tests.kb.made_up_notes import unhurried


@pytest.mark.parametrize(("markdown", "html"), [
    pytest.param("# foo", "<h1>foo</h1>\n", id="4.2-heading"),
    pytest.param("Foo\n===", "<h1>Foo</h1>\n", id="4.3-setext-heading"),
    pytest.param("***", "<hr />\n", id="4.1-thematic-break"),
    pytest.param("    a simple\n", "<pre><code>a simple\n</code></pre>\n", id="4.4-indented-code"),
    pytest.param("```\n<\n >\n```", "<pre><code>&lt;\n &gt;\n</code></pre>\n", id="4.5-fenced-code"),
    pytest.param("- a\n- b", "<ul>\n<li>a</li>\n<li>b</li>\n</ul>\n", id="5.3-list"),
    pytest.param("*foo bar*", "<p><em>foo bar</em></p>\n", id="6.2-emphasis"),
    pytest.param("`foo`", "<p><code>foo</code></p>\n", id="6.1-code"),
    pytest.param('[link](/uri "title")', '<p><a href="/uri" title="title">link</a></p>\n', id="6.3-link"),
    pytest.param("\\*not emphasized*", "<p>*not emphasized*</p>\n", id="2.4-escape"),
    pytest.param("&copy;", "<p>\u00a9</p>\n", id="2.5-entity"),
])  # fmt: skip
def test_commonmark(markdown: str, html: str) -> None:
    assert render_markdown(markdown) == html


def test_table() -> None:
    html = render_markdown("| pin | volts |\n|---|--:|\n| 1 | 5.0 |")
    assert "<th>pin</th>" in html
    assert ">5.0</td>" in html


def test_raw_html_is_shown_as_text() -> None:
    assert render_markdown("<script>alert(1)</script>") == "<p>&lt;script&gt;alert(1)&lt;/script&gt;</p>\n"
    assert "<b" not in render_markdown("a <b onclick=x>c</b>")


@pytest.mark.parametrize(
    "target",
    ["http://a/", "https://a/", "HTTPS://a/", "mailto:a@b", "../x.md", "#part", "x.md#part", "cases/a.md"],
)
def test_link_that_may_be_followed(target: str) -> None:
    assert f'<a href="{target}">' in render_markdown(f"[see]({target})")


@pytest.mark.parametrize("target", [
    "javascript:alert(1)", "JavaScript:alert(1)", "&#106;avascript:alert(1)", "vbscript:x",
    "data:text/html,x", "data:image/png;base64,AA", "file:///etc/passwd", "\x01javascript:alert(1)", "tel:1",
    "javascript&colon;alert(1)", "java&Tab;script:alert(1)",
])  # fmt: skip
def test_link_that_may_not_be_followed(target: str) -> None:
    html = render_markdown(f"[see]({target}) ![see]({target}) <{target}> [r]\n\n[r]: {target}\n")
    opened = html.lower()
    assert 'href="javascript' not in opened
    assert [
        scheme for scheme in ("vbscript", "data", "file", "tel", "java\tscript") if f'="{scheme}:' in opened
    ] == []


def test_picture_of_another_host_is_not_fetched() -> None:
    html = render_markdown("![the burnt corner](http://a/p.jpg) ![scope](//a/q.png)")
    assert "<img" not in html
    assert '<a href="http://a/p.jpg">the burnt corner</a>' in html
    assert '<img src="pictures/c833.jpg" alt="C833" />' in render_markdown("![C833](pictures/c833.jpg)")


@given(st.text("<>[]()!&#;:/\\\"'`*_ \n|-javscriptdthmlonk=", max_size=80))
@unhurried(150)
def test_no_tag_of_the_notes_own_comes_through(text: str) -> None:
    html = render_markdown(text).lower()
    assert "<script" not in html
    assert 'href="javascript:' not in html
    assert 'src="javascript:' not in html
