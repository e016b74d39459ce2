"""A blink pattern in time: what an animated lamp does to show a pattern as the set would."""

import json
from collections.abc import Sequence

from kb.notes.blinks import COLOURS, BlinkPattern, Group

# Milliseconds, chosen by us. A short flash and its gap make 1.7 flashes a second, well below the three a
# second that WCAG 2.2, success criterion 2.3.1, allows; test_replay_stays_below_three_flashes_a_second tells.
SHORT_MS, LONG_MS, GAP_MS = 300, 900, 300
PAUSE_MS = 1000  # between groups
END_MS = 2000  # before the pattern starts again


def flash_steps(groups: Sequence[Group]) -> list[tuple[int, int]]:
    """Return (lit, dark) milliseconds for each flash of one reading of a pattern."""
    steps: list[tuple[int, int]] = []
    for place, group in enumerate(groups, start=1):
        lit = LONG_MS if group.length == "long" else SHORT_MS
        steps += [(lit, GAP_MS)] * (group.count - 1)
        steps.append((lit, PAUSE_MS if place < len(groups) else END_MS))
    return steps


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
