"""In which order to check: likeliest and cheapest first, the set opened once."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

# Chosen by us, for a family without a note: dozens of screws out and in again, with a powered driver.
DEFAULT_OPENING_MIN = 10.0


@dataclass(frozen=True, kw_only=True)
class Check:
    """One check that tells whether one root cause is the fault.

    Attributes:
        root_cause: the cause that the check decides.
        probability: of the root cause, within [0, 1].
        minutes: bench time of the check alone, not negative.
        inside: whether the set must be open.
        assumed: whether the minutes are assumed rather than recorded.
    """

    root_cause: str
    probability: float
    minutes: float
    inside: bool
    assumed: bool = False

    def __post_init__(self) -> None:
        """Refuse what no order can be made of."""
        if not (0.0 <= self.probability <= 1.0 and 0.0 <= self.minutes < math.inf):
            raise ValueError(
                f"check for {self.root_cause!r}: probability {self.probability}, minutes {self.minutes}; "
                "a probability within 0 and 1 and minutes from 0 are needed"
            )


@dataclass(frozen=True, kw_only=True)
class CheckPlan:
    """Checks in the order to do them, and what that costs.

    Attributes:
        checks: in the order to do them.
        places: the place of each of these checks in the list that was given.
        expected_minutes: bench minutes until the fault is found or every check is done, opening included.
        naive_minutes: the same when the likeliest cause is always checked first, whatever the check takes.
        finding_min: for each check, minutes from the start until it is done, opening included once.
        opened: for each check, whether the set is open by then.
        opening_min: minutes to open the set.
    """

    checks: tuple[Check, ...]
    places: tuple[int, ...]
    expected_minutes: float
    naive_minutes: float
    finding_min: tuple[float, ...]
    opened: tuple[bool, ...]
    opening_min: float

    @property
    def total_minutes(self) -> float:
        """Bench minutes until every check is done and none has found the fault."""
        return self.finding_min[-1] if self.finding_min else 0.0


def order_checks(checks: Sequence[Check], *, opening_min: float) -> CheckPlan:
    """Return the checks in the order with the least expected minutes.

    Args:
        checks: their probabilities must not sum to more than 1 (a little rounding is forgiven).
        opening_min: minutes to open the set, paid once before the first check inside; 0 when it is open.

    Returns:
        The plan. Ties: the likelier cause, then the order given.

    Raises:
        ValueError: for a negative opening time, or probabilities above 1 together.
    """
    if not 0.0 <= opening_min < math.inf:
        raise ValueError(f"opening time {opening_min}; minutes from 0 are needed")
    total = sum(check.probability for check in checks)
    if total > 1.0 + 1e-6:
        raise ValueError(f"probabilities sum to {total}; at most 1 can be shared out")
    places = best_order(checks, opening_min=opening_min)
    ordered = [checks[place] for place in places]
    naive = sorted(checks, key=lambda check: -check.probability)
    opened = [any(check.inside for check in ordered[: done + 1]) for done in range(len(ordered))]
    return CheckPlan(
        checks=tuple(ordered),
        places=tuple(places),
        expected_minutes=expected_minutes(ordered, opening_min=opening_min),
        naive_minutes=expected_minutes(naive, opening_min=opening_min),
        finding_min=tuple(finding_times(ordered, opening_min=opening_min)),
        opened=tuple(opened),
        opening_min=opening_min,
    )


def best_order(checks: Sequence[Check], *, opening_min: float) -> list[int]:
    """Return the order of checks with the least expected minutes.

    One fault and checks that always tell are assumed. Repeatedly takes the check with the largest probability
    per minute among those that can be done now, or, while the set is closed, the best prefix of the inside
    checks by (sum P) / (opening + sum C), whichever is larger.

    Returns:
        Indices into `checks`. Ties: the likelier check, then the earlier; an outside check before opening.

    Source:
        Kadane and Simon 1977 (from memory); Ottosen and Jensen, The Cost of Troubleshooting Cost Clusters
        with Inside Information, arXiv 1203.3502 (its abstract). Without inside checks it is Smith's rule of
        1956 (from memory).
    """
    ranked = sorted(
        range(len(checks)),
        key=lambda i: (-_per_minute(checks[i].probability, checks[i].minutes), -checks[i].probability, i),
    )
    outside = [i for i in ranked if not checks[i].inside]
    inside = [i for i in ranked if checks[i].inside]
    worth, length = _best_prefix([checks[i] for i in inside], opening_min)
    first = [i for i in outside if _per_minute(checks[i].probability, checks[i].minutes) >= worth]
    opened_with = inside[:length]
    left = [i for i in ranked if i not in first and i not in opened_with]
    return [*first, *opened_with, *left]


def _per_minute(probability: float, minutes: float) -> float:
    """Return probability per minute; a check that costs nothing goes first if it can find anything."""
    if minutes > 0:
        return probability / minutes
    return math.inf if probability > 0 else 0.0


def _best_prefix(checks: Sequence[Check], opening_min: float) -> tuple[float, int]:
    """Return the largest (sum P) / (opening + sum C) over prefixes, and the shortest such prefix's length."""
    best, size, probability, minutes = -1.0, 0, 0.0, opening_min
    for length, check in enumerate(checks, start=1):
        probability += check.probability
        minutes += check.minutes
        worth = _per_minute(probability, minutes)
        if worth > best:
            best, size = worth, length
    return best, size


def finding_times(checks: Sequence[Check], *, opening_min: float) -> list[float]:
    """Return the minutes from the start until each check is done, in the order given."""
    opened, elapsed, times = False, 0.0, []
    for check in checks:
        elapsed += check.minutes + (opening_min if check.inside and not opened else 0.0)
        opened = opened or check.inside
        times.append(elapsed)
    return times


def expected_minutes(checks: Sequence[Check], *, opening_min: float) -> float:
    """Return the expected minutes of checks in the order given.

    Each step's minutes count by the chance that it is reached. Probabilities may sum to less than 1; the rest
    is a fault that no check finds, and costs them all.
    """
    expected, left, before = 0.0, 1.0, 0.0
    for check, elapsed in zip(checks, finding_times(checks, opening_min=opening_min), strict=True):
        expected += (elapsed - before) * max(left, 0.0)
        left -= check.probability
        before = elapsed
    return expected
