"""A blink pattern in time: what an animated lamp does to show a pattern as the set would."""

from __future__ import annotations

import json
from collections.abc import Sequence
from itertools import chain

from kb.notes.blinks import COLOURS, BlinkPattern, Group

# Milliseconds, chosen by us. A short flash and its gap make 1.7 flashes a second, well below the three a
# second that WCAG 2.2, success criterion 2.3.1, allows; test_replay_stays_below_three_flashes_a_second tells.
SHORT_MS, LONG_MS, GAP_MS = 300, 900, 300
PAUSE_MS = 1000  # between groups
END_MS = 2000  # before the pattern starts again

Step = tuple[int, int]


def flash_steps(groups: Sequence[Group]) -> list[Step]:
    """Return (lit, dark) milliseconds for each flash of one reading of a pattern."""
    steps = list(chain.from_iterable(_group_steps(group) for group in groups))
    return [*steps[:-1], (steps[-1][0], END_MS)] if steps else []


def readings(pattern: BlinkPattern) -> list[tuple[str, str]]:
    """Return each reading of a pattern as its spelling and its steps in JSON, as a lamp on the page takes it.

    "3 or 4" has two readings, which are shown one at a time.
    """
    return [
        (
            str(BlinkPattern(alternatives=(groups,), colour=pattern.colour)),
            json.dumps(flash_steps(groups), separators=(",", ":")),
        )
        for groups in pattern.alternatives
    ]


def lamp_colour(pattern: BlinkPattern) -> str:
    """Return the colour to light the lamp in: the recorded one, else "plain"."""
    return pattern.colour if pattern.colour in COLOURS else "plain"


def _group_steps(group: Group) -> list[Step]:
    lit = LONG_MS if group.length == "long" else SHORT_MS
    return [*[(lit, GAP_MS)] * (group.count - 1), (lit, PAUSE_MS)]
