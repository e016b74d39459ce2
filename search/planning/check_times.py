"""How long the check of each cause takes, with a sensible guess where no case says so."""

import re
from dataclasses import dataclass

import numpy as np

from kb.notes.blinks import NUMBER_WORDS
from search.stats.arrays import BoolArray, FloatArray, IntArray
from search.stats.intervals import group_medians

# Chosen by us; test_assumed_minutes_fall_back_to_board_then_notebook_then_ten would notice.
DEFAULT_CHECK_MIN = 10.0
_FRACTIONS = {"a": 1.0, "an": 1.0, "half an": 0.5, "quarter of an": 0.25, "twenty": 20.0, "thirty": 30.0}
_UNITS = {"s": 1 / 60, "m": 1.0, "h": 60.0}  # minutes, by the unit's first letter
_TIME = re.compile(
    rf"(?<![\w.,])(?P<number>\d+(?:[.,]\d+)?|{'|'.join(sorted({*NUMBER_WORDS, *_FRACTIONS}, key=len)[::-1])})"
    r"[\s-]*(?P<unit>s|secs?|seconds?|min|mins|minutes?|h|hrs?|hours?)\b",
    re.IGNORECASE,
)


@dataclass(frozen=True, kw_only=True)
class CheckTimes:
    """Minutes to reckon with for the check of each cause; assumed where none is recorded."""

    minutes: FloatArray
    assumed: BoolArray

    def of(self, cause: int, recorded: FloatArray, check: str) -> tuple[float, bool]:
        """Return the minutes of a cause's check, from those recorded or nan, and whether they are assumed.

        They are never fewer than the check's own words say: nobody runs a set for an hour in five minutes.
        """
        known, said = recorded[~np.isnan(recorded)], minutes_in_words(check)
        minutes = float(np.median(known) if known.size else self.minutes[cause])
        return max(minutes, said), said > minutes or (not known.size and bool(self.assumed[cause]))


def check_times(minutes: FloatArray, *, causes: IntArray, boards: IntArray, n_causes: int) -> CheckTimes:
    """Return what each cause's check takes: recorded, else its board's median, the notebook's, or 10 min.

    A cause with several recorded times takes their median. Its board is its most frequent one (ties: the
    smaller code).

    Args:
        minutes: (n,) recorded check times, nan where absent.
        causes, boards: (n,) codes, negative where none is named.
        n_causes: size of the arrays returned.
    """
    own = group_medians(minutes, causes, n_causes)
    n_boards = int(boards.max(initial=-1)) + 1
    by_board = np.append(group_medians(minutes, boards, n_boards), np.nan)
    usual_board = np.full(n_causes, -1)
    named = (boards >= 0) & (causes >= 0)
    pairs, counts = np.unique(causes[named] * np.int64(max(n_boards, 1)) + boards[named], return_counts=True)
    rarest_first = np.lexsort((-pairs, counts))
    # Later assignments win, so the most frequent board (and among equals the smallest code) stays.
    pair_causes, pair_boards = np.divmod(pairs[rarest_first], max(n_boards, 1))
    usual_board[pair_causes] = pair_boards
    recorded = minutes[~np.isnan(minutes)]
    fallback = float(np.median(recorded)) if recorded.size else DEFAULT_CHECK_MIN
    assumed_minutes = np.where(np.isnan(by_board[usual_board]), fallback, by_board[usual_board])
    assumed = np.isnan(own)
    return CheckTimes(minutes=np.where(assumed, assumed_minutes, own), assumed=assumed)


def minutes_in_words(check: str) -> float:
    """Return the longest time that a check's words name ("goes out after an hour"), minutes; 0 for none."""
    found = [0.0]
    for match in _TIME.finditer(check):
        said = match["number"].lower()
        number = float(NUMBER_WORDS.get(said, 0) or _FRACTIONS.get(said, 0) or said.replace(",", "."))
        unit = next(minutes for unit, minutes in _UNITS.items() if match["unit"].lower().startswith(unit))
        found.append(number * unit)
    return max(found)
