"""Blink patterns drawn as lamps."""

import pytest

from web.views.marking import LONG, PAUSE, SHORT, lamp_row


@pytest.mark.parametrize(
    ("pattern", "flashes"),
    [
        pytest.param("6", 6, id="count"),
        pytest.param("2+3", 5, id="groups"),
        pytest.param("3 or 4", 3, id="first-reading-of-a-doubt"),
        pytest.param("2 long + 3 short", 5, id="lengths"),
    ],
)
def test_lamps_draw_each_flash(pattern: str, flashes: int) -> None:
    row = lamp_row(pattern)
    assert row is not None
    assert len(row[0]) == flashes


def test_lamps_show_pause_and_length() -> None:
    row = lamp_row("2 long + 1 short")
    assert row is not None
    (_, first), (x, second), (last_x, third) = row[0]
    assert (first, third) == (LONG, SHORT)
    assert last_x - (x + second) == pytest.approx(PAUSE)
    assert row[1] == pytest.approx(last_x + third)


@pytest.mark.parametrize("pattern", ["", "no blinks here", "99", None])
def test_lamps_draw_nothing_for_what_is_no_short_pattern(pattern: str | None) -> None:
    assert lamp_row(pattern) is None
