"""Flashes pressed by hand become a blink pattern, also with an unsteady hand."""

import random

import pytest
from selenium.webdriver import Chrome

from .browser import MAY_SKIP, WHY

pytestmark = [pytest.mark.browser, pytest.mark.skipif(MAY_SKIP, reason=WHY)]

SHORT, LONG, GAP, PAUSE, END = 150, 900, 450, 1300, 2600  # ms, as sets flash; common practice, no source
COUNT = "return countFlashes(arguments[0], arguments[1])"


def pressed(
    pattern: list[tuple[int, int]], rounds: int, *, jitter_ms: float = 0.0, seed: int = 0
) -> list[list[float]]:
    """Return when a hand presses along. pattern: (count, milliseconds lit) of each group."""
    hand = random.Random(seed)
    presses, now = [], 1000.0
    for _ in range(rounds):
        for place, (count, lit) in enumerate(pattern):
            for _ in range(count):
                held = max(40.0, lit + hand.gauss(0, jitter_ms / 2))
                start = now + hand.gauss(0, jitter_ms)
                presses.append([start, start + held])
                now += lit + GAP
            now += (END if place == len(pattern) - 1 else PAUSE) - GAP
    return presses


@pytest.fixture(scope="module")
def demo_page(chromium: Chrome, demo: str) -> Chrome:
    """Return the browser on a page that counts; the rule is a pure function of it."""
    chromium.get(demo)
    return chromium


PATTERNS = [
    pytest.param([(3, SHORT)], "3", id="three"),
    pytest.param([(6, SHORT)], "6", id="six"),
    pytest.param([(2, SHORT), (3, SHORT)], "2+3", id="two-and-three"),
    pytest.param([(3, SHORT), (3, SHORT)], "3+3", id="twice-three-in-one-round"),
    pytest.param([(2, LONG), (3, SHORT)], "2 long + 3 short", id="long-and-short"),
    pytest.param([(1, SHORT)], "1", id="one"),
]


@pytest.mark.parametrize("jitter_ms", [0.0, 60.0])
@pytest.mark.parametrize(("pattern", "said"), PATTERNS)
def test_pattern_is_found_and_confirmed(
    demo_page: Chrome, pattern: list[tuple[int, int]], said: str, jitter_ms: float
) -> None:
    for seed in range(20 if jitter_ms else 1):
        presses = pressed(pattern, 3, jitter_ms=jitter_ms, seed=seed)
        found = demo_page.execute_script(COUNT, presses, presses[-1][1] + 4000)
        assert found == {"pattern": said, "confirmed": True}, seed


def test_one_round_is_not_taken_for_certain(demo_page: Chrome) -> None:
    presses = pressed([(2, SHORT), (3, SHORT)], 1)
    found = demo_page.execute_script(COUNT, presses, presses[-1][1] + 4000)
    assert found == {"pattern": "2+3", "confirmed": False}


def test_counting_may_begin_in_the_middle_of_a_round(demo_page: Chrome) -> None:
    presses = pressed([(2, SHORT), (3, SHORT)], 4)[3:]
    found = demo_page.execute_script(COUNT, presses, presses[-1][1] + 4000)
    assert found == {"pattern": "2+3", "confirmed": True}
