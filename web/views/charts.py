"""Charts drawn on the server as inline SVG: each has a title and a description that say what it shows.

By hand: two small drawings, for which a plotting library would be a hundred times their size. Only
presentation attributes and classes are used, because the pages' policy allows no inline style. The numbers
themselves always stand beside a chart, so that it can be left out without loss.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from xml.etree import ElementTree

from markupsafe import Markup

# Drawing units, chosen by us: a share chart 2.4 units a percent, so that caps and lines stay crisp.
SHARE_WIDTH, SHARE_HEIGHT = 240.0, 22.0
COLUMN, COLUMN_GAP, COLUMN_HEIGHT = 26.0, 10.0, 54.0
LABEL_ABOVE, LABEL_BELOW = 16.0, 16.0
BASE_LINE = LABEL_ABOVE + COLUMN_HEIGHT
MOST_YEAR_LABELS = 14  # chosen by us: of more years some go without a label


def share_chart(title: str, description: str, *, share: float | None, low: float, high: float) -> Markup:
    """Draw a share as a bar, and its interval as a whisker with a cap at either end.

    Args:
        title: what the share is of.
        description: the figures in words.
        share: within [0, 1]; None draws the whisker alone, where too few cases stand behind a share.
        low: lower bound of the interval, within [0, 1].
        high: upper bound, within [0, 1].

    Raises:
        ValueError: a figure lies outside [0, 1].
    """
    for value in (low, high, share or 0.0):
        if not 0.0 <= value <= 1.0:
            raise ValueError(f"{value} is no share; give one from 0 to 1")
    svg = _drawing("share-chart", SHARE_WIDTH, SHARE_HEIGHT, title, description)
    _add(svg, "rect", {"class": "bar-back", "y": 5, "width": SHARE_WIDTH, "height": 12})
    if share is not None:
        _add(svg, "rect", {"class": "bar-fill", "y": 5, "width": share * SHARE_WIDTH, "height": 12})
    quarters = "".join(f"M{_number(part * SHARE_WIDTH)} 5v12" for part in (0.25, 0.5, 0.75))
    _add(svg, "path", {"class": "quarter", "d": quarters})
    _whisker(svg, low * SHARE_WIDTH, high * SHARE_WIDTH, middle=11)
    return _markup(svg)


def years_chart(
    title: str, description: str, *, years: Sequence[int], counts: Sequence[int], unfinished: bool = False
) -> Markup:
    """Draw a count for each year as a column, its number above and the year below.

    With many years only some are labelled, the last always.

    Args:
        title: what is counted.
        description: the figures in words.
        years: ascending.
        counts: one for each year, not negative.
        unfinished: the last year is not over, and its column is drawn hollow.

    Raises:
        ValueError: years and counts do not fit.
    """
    if len(years) != len(counts) or any(count < 0 for count in counts):
        raise ValueError(f"{len(years)} years with counts {list(counts)}; give one count from 0 for each")
    width = max(len(years) * (COLUMN + COLUMN_GAP), COLUMN)
    height = BASE_LINE + LABEL_BELOW
    svg = _drawing("years-chart", width, height, title, description)
    svg.set("width", _number(width))
    svg.set("height", _number(height))
    most = max([*counts, 1])
    every = -(-len(years) // MOST_YEAR_LABELS) or 1
    for place, (year, count) in enumerate(zip(years, counts, strict=True)):
        tall = COLUMN_HEIGHT * count / most
        x = place * (COLUMN + COLUMN_GAP) + COLUMN_GAP / 2
        last = place == len(years) - 1
        kind = "column unfinished" if unfinished and last else "column"
        if count:
            _add(svg, "rect", {"class": kind, "x": x, "y": BASE_LINE - tall, "width": COLUMN, "height": tall})
        middle = x + COLUMN / 2
        _label(svg, str(count), middle, BASE_LINE - tall - 4)
        if (len(years) - 1 - place) % every == 0:
            _label(svg, str(year), middle, height - 3)
    _add(svg, "line", {"class": "base", "x1": 0, "x2": width, "y1": BASE_LINE, "y2": BASE_LINE})
    return _markup(svg)


def _drawing(kind: str, width: float, height: float, title: str, description: str) -> ElementTree.Element:
    svg = ElementTree.Element(
        "svg",
        {
            "class": f"chart {kind}",
            "viewBox": f"0 0 {_number(width)} {_number(height)}",
            "role": "img",
            "focusable": "false",
        },
    )
    ElementTree.SubElement(svg, "title").text = title
    ElementTree.SubElement(svg, "desc").text = description
    return svg


def _whisker(svg: ElementTree.Element, low: float, high: float, *, middle: float) -> None:
    # Kept half a stroke inside the drawing, so that the caps at 0 and 100 % are not cut off.
    low, high = max(low, 1.0), min(high, SHARE_WIDTH - 1.0)
    left, right, top = _number(low), _number(high), _number(middle - 6)
    line = f"M{left} {_number(middle)}H{right}M{left} {top}v12M{right} {top}v12"
    for name in ("halo", "whisker"):
        _add(svg, "path", {"class": name, "d": line})


def _label(svg: ElementTree.Element, text: str, x: float, y: float) -> None:
    _add(svg, "text", {"x": x, "y": y, "text-anchor": "middle", "aria-hidden": "true"}).text = text


def _add(svg: ElementTree.Element, name: str, attributes: Mapping[str, object]) -> ElementTree.Element:
    said = {
        key: _number(value) if isinstance(value, (int, float)) else str(value)
        for key, value in attributes.items()
    }
    return ElementTree.SubElement(svg, name, said)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _markup(svg: ElementTree.Element) -> Markup:
    # ElementTree escapes every text and attribute, so the result is safe as it stands.
    return Markup(ElementTree.tostring(svg, encoding="unicode"))
