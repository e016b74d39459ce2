"""In which order to check: likeliest and cheapest first, the set opened once."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate, pairwise
from typing import Any

import numpy as np

from search.records import JsonRecord
from search.stats.arrays import FloatArray

# Chosen by us, for a family without a note: dozens of screws out and in again, with a powered driver.
DEFAULT_OPENING_MIN = 10.0

Sample = tuple[FloatArray, FloatArray]  # values, and weights that sum to 1
NO_TIMES: Sample = (np.empty(0), np.empty(0))


@dataclass(frozen=True, kw_only=True)
class Check(JsonRecord):
    """One check that tells whether one root cause is the fault.

    check: what to do, in the words of a note; may be "". minutes: bench time of the check alone; assumed:
    whether no note records it. probability: of the root cause. inside: whether the set must be open for the
    check; fixed_inside: for the repair. note: what to know before trusting the check. fix_times: how long the
    repair may take, minutes, and the weight of each time.
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
        """Return the check as it stands in JSON, without what only the bench time is made from."""
        return {name: said for name, said in vars(self).items() if name not in ("fixed_inside", "fix_times")}


@dataclass(frozen=True, kw_only=True)
class CheckPlan:
    """Checks in the order to do them, and what that costs.

    finding_min: for each, minutes from the start until it is done, opening included once. expected_minutes:
    until the fault is found or every check is done. naive_minutes: the same when the likeliest cause is
    always checked first, whatever the check takes. opening_min: minutes to open the set.
    """

    checks: tuple[Check, ...]
    finding_min: tuple[float, ...]
    expected_minutes: float
    naive_minutes: float
    opening_min: float


def order_checks(checks: Sequence[Check], *, opening_min: float) -> CheckPlan:
    """Return the checks, whose probabilities sum to at most 1, in the order of the least expected minutes.

    One fault and checks that always tell are assumed. First come the outside checks with more probability per
    minute than opening the set can give; then the shortest prefix of the inside checks with the largest
    (sum P) / (opening + sum C); then all others. Ties: the likelier check, then one from outside, then the
    order given. opening_min: minutes to open the set, paid once before the first check inside; 0 when it is
    open.

    Source:
        Kadane and Simon 1977 (from memory); Ottosen and Jensen, The Cost of Troubleshooting Cost Clusters
        with Inside Information, arXiv 1203.3502 (its abstract). Without inside checks it is Smith's rule of
        1956 (from memory).
    """
    outside = sorted((check for check in checks if not check.inside), key=_rank)
    inside = sorted((check for check in checks if check.inside), key=_rank)
    minutes = list(accumulate((check.minutes for check in inside), initial=opening_min))[1:]
    worth = list(map(_per_minute, accumulate(check.probability for check in inside), minutes))
    most = max(worth, default=-1.0)
    first = sum(_per_minute(check.probability, check.minutes) >= most for check in outside)
    opened_for = worth.index(most) + 1 if worth else 0
    later = sorted((*outside[first:], *inside[opened_for:]), key=_rank)
    ordered = (*outside[:first], *inside[:opened_for], *later)
    naive = sorted(checks, key=lambda check: -check.probability)
    return CheckPlan(
        checks=ordered,
        finding_min=tuple(finding_times(ordered, opening_min=opening_min)),
        expected_minutes=expected_minutes(ordered, opening_min=opening_min),
        naive_minutes=expected_minutes(naive, opening_min=opening_min),
        opening_min=opening_min,
    )


def _rank(check: Check) -> tuple[float, float]:
    return -_per_minute(check.probability, check.minutes), -check.probability


def _per_minute(probability: float, minutes: float) -> float:
    """Return probability per minute; a check that costs nothing goes first if it can find anything."""
    if minutes > 0:
        return probability / minutes
    return math.inf if probability > 0 else 0.0


def finding_times(checks: Sequence[Check], *, opening_min: float) -> list[float]:
    """Return the minutes from the start until each check is done, in the order given."""
    opened, elapsed, times = False, 0.0, []
    for check in checks:
        elapsed += check.minutes + (opening_min if check.inside and not opened else 0.0)
        opened = opened or check.inside
        times.append(elapsed)
    return times


def expected_minutes(checks: Sequence[Check], *, opening_min: float) -> float:
    """Return the expected minutes of checks in the order given: each counts by the chance that it is reached.

    What the probabilities lack of 1 is a fault that no check finds, and costs them all.
    """
    expected, left = 0.0, 1.0
    spans = pairwise((0.0, *finding_times(checks, opening_min=opening_min)))
    for check, (before, elapsed) in zip(checks, spans, strict=True):
        expected += (elapsed - before) * max(left, 0.0)
        left -= check.probability
    return expected
