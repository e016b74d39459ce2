"""Checks: what notes say of them, and the best order to do them in, with the set opened once."""

import math
import operator
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import accumulate
from statistics import median
from typing import Any

import numpy as np

from kb.files import own_toml
from kb.notes.durations import find_durations
from search.records import JsonRecord
from search.stats.arrays import FloatArray

# Chosen by us for a family without a note: dozens of screws out and in, with a powered driver.
DEFAULT_OPENING_MIN = 10.0
DEFAULT_CHECK_MIN = 10.0  # chosen by us
_LISTS = own_toml(__file__, "outside.toml")
_JOINED = {name: "|".join(phrases).replace(" ", r"[\s-]+") for name, phrases in _LISTS.items()}
_SAYS = {name: re.compile(rf"\b({each})(?!\w)", re.IGNORECASE) for name, each in _JOINED.items()}

Sample = tuple[FloatArray, FloatArray]  # values, and weights that sum to 1
NO_TIMES: Sample = (np.empty(0), np.empty(0))


@dataclass(frozen=True, kw_only=True)
class Check(JsonRecord):
    """A check that tells whether one root cause is the fault.

    check: what to do, in a note's words; may be "". minutes: of the check alone. assumed: no note records
    them. probability: of the cause. inside, fixed_inside: the set must be open for the check, for the repair.
    note: what to know before the check. fix_times: how long the repair may take, minutes.
    """

    root_cause: str
    probability: float
    minutes: float
    inside: bool
    assumed: bool = False
    check: str = ""
    note: str = ""
    fixed_inside: bool = False
    fix_times: Sample = field(default=NO_TIMES, compare=False)

    def as_json(self) -> dict[str, Any]:
        return {name: said for name, said in vars(self).items() if name not in ("fixed_inside", "fix_times")}


@dataclass(frozen=True, kw_only=True)
class CheckPlan(JsonRecord):
    """Checks in the order to do them. opening_min: minutes to open the set, before the first inside check."""

    checks: tuple[Check, ...] = ()
    opening_min: float = 0.0

    @property
    def step_min(self) -> list[float]:
        """The minutes of each check; the first inside includes opening."""
        inside = [check.inside for check in self.checks]
        opened = inside.index(True) if any(inside) else None
        return [
            check.minutes + self.opening_min * (place == opened) for place, check in enumerate(self.checks)
        ]

    @property
    def expected_minutes(self) -> float | None:
        """Minutes until the fault is found or every check is done; None for no checks.

        Each check counts with the chance that it is reached. What the probabilities lack of 1 is the chance
        of a fault that no check finds; then all are done.
        """
        reached = accumulate((check.probability for check in self.checks), operator.sub, initial=1.0)
        costs = [minutes * max(left, 0.0) for minutes, left in zip(self.step_min, reached, strict=False)]
        return sum(costs) if costs else None

    def as_json(self) -> dict[str, Any]:
        return super().as_json() | {"expected_minutes": self.expected_minutes}


def order_checks(checks: Sequence[Check], *, opening_min: float) -> CheckPlan:
    """Return the checks in the order with the least expected minutes. Their probabilities sum to at most 1.

    Assumes one fault, and checks that always tell. First come outside checks with more probability per minute
    than opening the set can give; then the shortest prefix of the inside checks with the largest (sum P) /
    (opening + sum C); then all others. Ties: the likelier check, then an outside one, then the order given.
    opening_min: paid once before the first inside check; 0 when the set is open.
    Source: Kadane and Simon 1977 (from memory); Ottosen and Jensen, The Cost of Troubleshooting Cost Clusters
    with Inside Information, arXiv 1203.3502 (its abstract). Without inside checks it is Smith's rule of 1956
    (from memory).
    """
    outside = sorted((check for check in checks if not check.inside), key=_rank)
    inside = sorted((check for check in checks if check.inside), key=_rank)
    minutes = list(accumulate((check.minutes for check in inside), initial=opening_min))[1:]
    worth = list(map(_per_minute, accumulate(check.probability for check in inside), minutes))
    most = max(worth, default=-1.0)
    first = sum(_per_minute(check.probability, check.minutes) >= most for check in outside)
    opened_for = worth.index(most) + 1 if worth else 0
    later = sorted((*outside[first:], *inside[opened_for:]), key=_rank)
    return CheckPlan(checks=(*outside[:first], *inside[:opened_for], *later), opening_min=opening_min)


def _rank(check: Check) -> tuple[float, float]:
    return -_per_minute(check.probability, check.minutes), -check.probability


def _per_minute(probability: float, minutes: float) -> float:
    """Return probability per minute; infinite for a check without cost that can find something."""
    if minutes > 0:
        return probability / minutes
    return math.inf if probability > 0 else 0.0


def check_minutes(check: str, recorded: FloatArray, *, of_cause: float, usual: float) -> tuple[float, bool]:
    """Return the minutes of a check, and whether they are assumed because no note records so many.

    They are never fewer than the check's own words name: nobody runs a set for an hour in five minutes.
    recorded: (n,) minutes or nan of some cases of the cause. of_cause: median of all its cases, or nan.
    usual: of any check.
    """
    known, said = recorded[~np.isnan(recorded)], minutes_in_words(check)
    own = median(known.tolist()) if known.size else of_cause  # a tenth of numpy's time for few values
    minutes = usual if math.isnan(own) else own
    return max(minutes, said), said > minutes or math.isnan(own)


@lru_cache(maxsize=10_000)  # every save asks for all checks shown again
def minutes_in_words(check: str) -> float:
    """Return the longest time that a check names ("goes out after an hour"), minutes; 0 for none."""
    return max((minutes for _, minutes in find_durations(check)), default=0.0)


@lru_cache(maxsize=10_000)  # a dozen patterns a check, and the same checks in every answer
def is_inside(check: str, board: str = "") -> bool:
    """Tell whether a check needs the set opened, by its text and its board, which may be a "mains lead".

    It does not if the words say that the set is closed, or name an outside check and no place inside.
    Anything unclear counts as inside.
    """
    if _SAYS["inside"].search(check):
        return True
    if _SAYS["closed"].search(check):
        return False
    if _SAYS["places"].search(check):
        return True
    if _SAYS["visible_boards"].search(board) and _SAYS["look"].match(check):
        return False
    return not (_SAYS["outside"].search(check) or _SAYS["outside_boards"].search(board))


def is_live(check: str) -> bool:
    """Tell whether a check is done inside a set that is on."""
    return is_inside(check) and _SAYS["live"].search(check) is not None
