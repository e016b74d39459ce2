"""How long the check of each cause takes, with a sensible guess where no case says so."""

import math
import re
from dataclasses import dataclass

import numpy as np

from kb.notes.blinks import NUMBER_WORDS
from search.stats.arrays import FloatArray, IntArray
from search.stats.intervals import group_medians

DEFAULT_CHECK_MIN = 10.0  # chosen by us
_FRACTIONS = {"a": 1.0, "an": 1.0, "half an": 0.5, "quarter of an": 0.25, "twenty": 20.0, "thirty": 30.0}
_UNITS = {"s": 1 / 60, "m": 1.0, "h": 60.0}  # minutes, by the unit's first letter
_TIME = re.compile(
    rf"(?<![\w.,])(?P<number>\d+(?:[.,]\d+)?|{'|'.join(sorted({*NUMBER_WORDS, *_FRACTIONS}, key=len)[::-1])})"
    r"[\s-]*(?P<unit>s|secs?|seconds?|min|mins|minutes?|h|hrs?|hours?)\b",
    re.IGNORECASE,
)


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
    found = [0.0]
    for match in _TIME.finditer(check):
        said = match["number"].lower()
        number = float(NUMBER_WORDS.get(said, 0) or _FRACTIONS.get(said, 0) or said.replace(",", "."))
        unit = next(minutes for unit, minutes in _UNITS.items() if match["unit"].lower().startswith(unit))
        found.append(number * unit)
    return max(found)
