"""How figures are said on both faces: with their unit and as many digits as they deserve."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from kb.durations import format_minutes

NOT_KNOWN = "not known"


def say_minutes(minutes: float | None) -> str:
    """Say a time in whole minutes; "not known" for none."""
    if minutes is None or not math.isfinite(minutes):
        return NOT_KNOWN
    return format_minutes(max(round(minutes), 1 if minutes > 0 else 0))


def say_share(share: float | None) -> str:
    """Say a share within [0, 1] as a whole percentage that never claims 0 or 100 for what is neither."""
    if share is None or not math.isfinite(share):
        return NOT_KNOWN
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    return f"{share * 100:.0f} %"


def group_advice(lines: Sequence[str]) -> list[tuple[str, list[str]]]:
    """Gather lines that hold under one condition: "If it is HV-L2: unplug it" under "If it is HV-L2".

    Lines without a condition come first, under "".
    """
    groups: dict[str, list[str]] = {"": []}
    for line in lines:
        found = re.fullmatch(r"(If it is [^:]+): (.+)", line, re.DOTALL)
        condition, said = found.groups() if found else ("", line)
        groups.setdefault(condition, []).append(said)
    return [(condition, said) for condition, said in groups.items() if said]


def say_count(number: int, one: str, many: str = "") -> str:
    """Say a number of things: "1 case", "12 cases"."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"
