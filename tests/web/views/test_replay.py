"""Replaying a pattern: every flash, in its length and group, and never faster than eyes can bear."""

from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.notes.blinks import BlinkPattern, Group
from web.views.marking import END_MS, GAP_MS, LONG_MS, PAUSE_MS, SHORT_MS, flash_steps, readings

GROUPS = st.lists(st.builds(Group, st.integers(1, 20), st.sampled_from(["", "long", "short"])), min_size=1)


@pytest.mark.parametrize(
    ("spelled", "steps"),
    [
        pytest.param("1", [(SHORT_MS, END_MS)], id="one"),
        pytest.param("3", [(SHORT_MS, GAP_MS), (SHORT_MS, GAP_MS), (SHORT_MS, END_MS)], id="count"),
        pytest.param("1+2", [(SHORT_MS, PAUSE_MS), (SHORT_MS, GAP_MS), (SHORT_MS, END_MS)], id="groups"),
        pytest.param(
            "2 long + 1 short", [(LONG_MS, GAP_MS), (LONG_MS, PAUSE_MS), (SHORT_MS, END_MS)], id="lengths"
        ),
    ],
)
def test_steps_follow_the_pattern(spelled: str, steps: list[tuple[int, int]]) -> None:
    assert flash_steps(BlinkPattern.parse(spelled).alternatives[0]) == steps


def test_readings_show_a_doubt_one_at_a_time() -> None:
    shown = readings(BlinkPattern.parse("3 or 4 red"))
    assert [spelled for spelled, _ in shown] == ["3 red", "4 red"]
    assert [len(steps) for _, steps in shown] == [3, 4]


@given(GROUPS)
def test_steps_hold_every_flash_once(groups: list[Group]) -> None:
    steps = flash_steps(groups)
    assert len(steps) == sum(group.count for group in groups)
    assert sum(lit == LONG_MS for lit, _ in steps) == sum(g.count for g in groups if g.length == "long")
    assert [dark for _, dark in steps].count(PAUSE_MS) == len(groups) - 1


@given(GROUPS)
def test_replay_stays_below_three_flashes_a_second(groups: list[Group]) -> None:
    # WCAG 2.2, success criterion 2.3.1: no more than three flashes in any one second.
    steps = flash_steps(groups) * 2
    starts = [0, *accumulate(lit + dark for lit, dark in steps)][:-1]
    assert all(sum(start <= other < start + 1000 for other in starts) <= 3 for start in starts)
