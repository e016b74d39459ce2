"""Charts: well-formed drawings whose shapes have the sizes of the numbers, and which say what they show."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup

from web.views.charts import (
    BASE_LINE,
    COLUMN_HEIGHT,
    MOST_YEAR_LABELS,
    SHARE_WIDTH,
    share_chart,
    years_chart,
)

SHARES = st.floats(min_value=0, max_value=1)


def shapes(drawing: Markup, kind: str) -> list[dict[str, str]]:
    """Return the attributes of the shapes of one class."""
    root = ElementTree.fromstring(str(drawing))
    return [dict(each.attrib) for each in root.iter() if each.get("class") == kind]


def labels(drawing: Markup) -> list[str]:
    """Return the texts that are drawn."""
    return [each.text or "" for each in ElementTree.fromstring(str(drawing)).iter("text")]


@pytest.mark.parametrize(
    "drawing",
    [
        pytest.param(share_chart("a <b> & c", 'd "e"', share=0.3, low=0.1, high=0.6), id="share"),
        pytest.param(years_chart("a <b> & c", 'd "e"', years=[2024, 2025], counts=[1, 4]), id="years"),
    ],
)
def test_chart_is_an_image_that_says_what_it_shows(drawing: Markup) -> None:
    root = ElementTree.fromstring(str(drawing))
    assert root.get("role") == "img"
    assert [root[0].tag, root[0].text] == ["title", "a <b> & c"]
    assert [root[1].tag, root[1].text] == ["desc", 'd "e"']


@pytest.mark.parametrize(
    "drawing",
    [
        pytest.param(share_chart("t", "d", share=0.3, low=0.1, high=0.6), id="share"),
        pytest.param(years_chart("t", "d", years=[2024], counts=[1], unfinished=True), id="years"),
    ],
)
def test_chart_needs_no_inline_style_or_script(drawing: Markup) -> None:
    for element in ElementTree.fromstring(str(drawing)).iter():
        assert element.tag not in ("style", "script")
        assert not [name for name in element.attrib if name == "style" or name.startswith("on")]


@given(SHARES, SHARES, SHARES)
def test_share_chart_draws_the_share_and_its_interval_to_scale(a: float, b: float, c: float) -> None:
    low, share, high = sorted((a, b, c))
    drawing = share_chart("t", "d", share=share, low=low, high=high)
    (bar,) = shapes(drawing, "bar-fill")
    assert float(bar["width"]) == pytest.approx(share * SHARE_WIDTH, abs=0.006)
    (whisker,) = shapes(drawing, "whisker")
    line = re.fullmatch(r"M([\d.]+) 11H([\d.]+)M([\d.]+) 5v12M([\d.]+) 5v12", whisker["d"])
    assert line
    # Caps stay one unit inside the drawing, so that none is cut off.
    assert float(line[1]) == pytest.approx(max(low * SHARE_WIDTH, 1), abs=0.006)
    assert float(line[2]) == pytest.approx(min(high * SHARE_WIDTH, SHARE_WIDTH - 1), abs=0.006)
    assert (line[3], line[4]) == (line[1], line[2])


def test_share_chart_of_too_few_cases_draws_the_interval_alone() -> None:
    drawing = share_chart("t", "d", share=None, low=0.2, high=0.9)
    assert shapes(drawing, "bar-fill") == []
    assert len(shapes(drawing, "whisker")) == 1


@pytest.mark.parametrize("wrong", [-0.01, 1.01, float("nan")])
def test_share_chart_refuses_what_is_no_share(wrong: float) -> None:
    with pytest.raises(ValueError, match="no share"):
        share_chart("t", "d", share=0.5, low=0.1, high=wrong)


@given(st.lists(st.integers(0, 10_000), min_size=1, max_size=60))
def test_years_chart_columns_stand_in_proportion(counts: list[int]) -> None:
    drawing = years_chart("t", "d", years=range(1970, 1970 + len(counts)), counts=counts)
    columns = shapes(drawing, "column")
    drawn = [count for count in counts if count]
    assert len(columns) == len(drawn)
    for column, count in zip(columns, drawn, strict=True):
        assert float(column["height"]) == pytest.approx(COLUMN_HEIGHT * count / max(counts), abs=0.006)
        assert float(column["y"]) + float(column["height"]) == pytest.approx(BASE_LINE, abs=0.02)
    written = labels(drawing)
    assert [text for text in written if text in {str(count) for count in counts}] or not counts
    assert str(1970 + len(counts) - 1) in written
    assert len(written) - len(counts) <= MOST_YEAR_LABELS


def test_years_chart_draws_an_unfinished_year_hollow() -> None:
    drawing = years_chart("t", "d", years=[2025, 2026], counts=[3, 2], unfinished=True)
    assert len(shapes(drawing, "column")) == 1
    assert len(shapes(drawing, "column unfinished")) == 1
    assert labels(drawing) == ["3", "2025", "2", "2026"]


@pytest.mark.parametrize("counts", [[1], [1, -1]], ids=["too-few", "negative"])
def test_years_chart_refuses_counts_that_do_not_fit(counts: list[int]) -> None:
    with pytest.raises(ValueError, match="one count"):
        years_chart("t", "d", years=[2024, 2025], counts=counts)
