"""What notes tell of a check: how long it takes, and whether the set must be open (see outside.toml)."""

import math
import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from kb.notes.blinks import NUMBER_WORDS
from search.stats.arrays import FloatArray, IntArray
from search.stats.intervals import group_medians

DEFAULT_CHECK_MIN = 10.0  # chosen by us
_NUMBERS = {**NUMBER_WORDS, "a": 1, "an": 1, "half an": 0.5, "quarter of an": 0.25, "thirty": 30}
_MINUTES = {"s": 1 / 60, "m": 1.0, "h": 60.0}  # of a unit, by its first letter
_TIME = re.compile(
    rf"(?<![\w.,])(?P<number>\d+(?:[.,]\d+)?|{'|'.join(sorted(_NUMBERS, key=len, reverse=True))})"
    r"[\s-]*(?P<unit>s|secs?|seconds?|min|mins|minutes?|h|hrs?|hours?)\b",
    re.IGNORECASE,
)
_LISTS = tomllib.loads(Path(__file__).with_name("outside.toml").read_text(encoding="utf-8"))
_JOINED = {name: "|".join(phrases).replace(" ", r"[\s-]+") for name, phrases in _LISTS.items()}
_SAYS = {name: re.compile(rf"\b({each})(?!\w)", re.IGNORECASE) for name, each in _JOINED.items()}


@dataclass(frozen=True, kw_only=True)
class CheckTimes:
    """Minutes recorded for the check of each cause, (n_causes,), nan for none, and of any cause."""

    own: FloatArray
    usual: float

    def of(self, cause: int, recorded: FloatArray, check: str) -> tuple[float, bool]:
        """Return the minutes of a cause's check, from those recorded or nan, and whether they are assumed.

        They are never fewer than the check's own words say: nobody runs a set for an hour in five minutes.
        """
        known, said = recorded[~np.isnan(recorded)], minutes_in_words(check)
        own = float(np.median(known) if known.size else self.own[cause])
        minutes = self.usual if math.isnan(own) else own
        return max(minutes, said), said > minutes or math.isnan(own)


def check_times(minutes: FloatArray, *, causes: IntArray, n_causes: int) -> CheckTimes:
    """Return the medians of recorded check times, (n,) minutes or nan, by cause and over all, else 10 min."""
    recorded = minutes[~np.isnan(minutes)]
    usual = float(np.median(recorded)) if recorded.size else DEFAULT_CHECK_MIN
    return CheckTimes(own=group_medians(minutes, causes, n_causes), usual=usual)


def minutes_in_words(check: str) -> float:
    """Return the longest time that a check's words name ("goes out after an hour"), minutes; 0 for none."""
    found = ((match["number"].lower(), match["unit"][0].lower()) for match in _TIME.finditer(check))
    times = ((_NUMBERS.get(said) or float(said.replace(",", "."))) * _MINUTES[unit] for said, unit in found)
    return max(times, default=0.0)


@lru_cache(maxsize=10_000)  # a dozen patterns a check, and the same checks in every answer
def is_inside(check: str, board: str = "") -> bool:
    """Say whether a check needs the set opened, by its text and its board, which may be a "mains lead".

    False only where the words say that the set is closed, or name a check done from outside and no place
    inside. Anything unclear counts as inside.
    """
    inside = bool(_SAYS["inside"].search(check))
    if _SAYS["closed"].search(check) and not inside:
        return False
    if inside or _SAYS["places"].search(check):
        return True
    if _SAYS["visible_boards"].search(board) and _SAYS["look"].match(check):
        return False
    return not (_SAYS["outside"].search(check) or _SAYS["outside_boards"].search(board))


def fix_needs_opening(parts: Sequence[object], board: str) -> bool:
    """Say whether a repair needs the set opened: it took a part, and its board is not outside the set."""
    return bool(parts) and is_inside("", board)
