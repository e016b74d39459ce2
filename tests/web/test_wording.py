"""Figures carry their unit and as many digits as they deserve."""

from __future__ import annotations

import pytest

from search.answer import Advice
from web.wording import group_advice, say_about, say_count, say_minutes, say_share


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "0 %"),
        (0.004, "under 1 %"),
        (0.4137, "41 %"),
        (0.996, "over 99 %"),
        (1.0, "100 %"),
        (None, "not known"),
    ],
)
def test_share_is_said_in_whole_per_cent(share: float | None, said: str) -> None:
    assert say_share(share) == said


@pytest.mark.parametrize(
    ("minutes", "said"),
    [(17.5, "18 min"), (0.2, "1 min"), (80, "1 h 20 min"), (None, "not known"), (float("nan"), "not known")],
)
def test_minutes_are_said_whole(minutes: float | None, said: str) -> None:
    assert say_minutes(minutes) == said


@pytest.mark.parametrize(
    ("minutes", "said"),
    [(18.5, "18 min"), (21, "20 min"), (63.1, "1 h 5 min"), (86, "1 h 25 min"), (None, "not known")],
)
def test_estimates_are_said_to_five_minutes(minutes: float | None, said: str) -> None:
    assert say_about(minutes) == said


def test_counts_agree_with_their_noun() -> None:
    assert [say_count(1, "case"), say_count(2, "case"), say_count(1200, "repair")] == [
        "1 case",
        "2 cases",
        "1,200 repairs",
    ]


def test_advice_is_gathered_under_its_family() -> None:
    lines = [Advice("unplug it", "HV-L2"), Advice("keep it dry"), Advice("If wet: wait", "HV-L2"), "lift"]
    assert group_advice(lines) == [
        ("", ["keep it dry", "lift"]),
        ("HV-L2", ["unplug it", "If wet: wait"]),
    ]
