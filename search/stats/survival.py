"""How many repairs come back: Kaplan-Meier with censoring at the newest note."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from search.stats.arrays import BoolArray
from search.stats.intervals import normal_quantile, wilson_interval

COMEBACK_DAYS = 90  # chosen by us; shown beside every rate


@dataclass(frozen=True, kw_only=True)
class SurvivalPoint:
    """Survival at one time: estimate, Greenwood standard error, log-log interval, numbers behind it."""

    survival: float
    standard_error: float
    low: float
    high: float
    still_followed: int


@dataclass(frozen=True, kw_only=True)
class SurvivalCurve:
    """A Kaplan-Meier curve; every tuple has one entry for each time with an event, ascending."""

    times: tuple[float, ...]
    at_risk: tuple[int, ...]
    events: tuple[int, ...]
    survival: tuple[float, ...]
    standard_error: tuple[float, ...]
    durations: tuple[float, ...]

    def at(self, time: float, *, confidence: float = 0.95) -> SurvivalPoint:
        """Return the point of the curve at a time, in the unit of the durations.

        confidence: of the log-log interval, within (0, 1). Where the curve is still 1 or already 0 the
        log-log interval does not exist: (survival, survival) is returned, which is no interval.
        still_followed counts durations of at least `time`.
        Source: Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data (from memory).
        """
        passed = sum(1 for moment in self.times if moment <= time)
        survival = self.survival[passed - 1] if passed else 1.0
        error = self.standard_error[passed - 1] if passed else 0.0
        followed = sum(1 for duration in self.durations if duration >= time)
        low = high = survival
        if 0.0 < survival < 1.0:
            spread = normal_quantile(0.5 + confidence / 2) * error / (survival * abs(math.log(survival)))
            low, high = survival ** math.exp(spread), survival ** math.exp(-spread)
        return SurvivalPoint(
            survival=survival, standard_error=error, low=low, high=high, still_followed=followed
        )


def kaplan_meier(durations: Sequence[float], happened: Sequence[bool]) -> SurvivalCurve:
    """Return the Kaplan-Meier curve of durations, some of them censored.

    durations: (n,) not negative, any unit. happened: (n,) True where the event came, False where censored.
    Ties: an event and a censoring at one time, the event counts as earlier. Standard errors: Greenwood.
    Raises: ValueError when lengths differ or a duration is negative.
    Source: Kaplan and Meier 1958; Greenwood 1926 (both from memory).
    """
    spans = np.asarray(durations, dtype=np.float64)
    came: BoolArray = np.asarray(happened, dtype=bool)
    if spans.shape != came.shape:
        raise ValueError(f"{spans.size} durations, {came.size} event flags; give one flag a duration")
    if np.any(spans < 0):
        raise ValueError("negative duration; give the days from repair to comeback or to the newest note")
    times, events = np.unique(spans[came], return_counts=True)
    at_risk = spans.size - np.searchsorted(np.sort(spans), times, side="left")
    survival = np.cumprod(1.0 - events / at_risk)
    with np.errstate(divide="ignore", invalid="ignore"):
        greenwood = np.cumsum(events / (at_risk * (at_risk - events)))
        error = np.where(survival > 0, survival * np.sqrt(greenwood), 0.0)
    return SurvivalCurve(
        times=tuple(times.tolist()),
        at_risk=tuple(at_risk.tolist()),
        events=tuple(events.tolist()),
        survival=tuple(survival.tolist()),
        standard_error=tuple(error.tolist()),
        durations=tuple(spans.tolist()),
    )


@dataclass(frozen=True, kw_only=True)
class ComebackRate:
    """The share of fixed repairs that come back within a span of days.

    rate, low and high (95 %) are None while no repair was followed that long (nor have all come back).
    Where none or all came back the log-log interval does not exist; Wilson's over the repairs that were
    followed all the way stands in for it.
    """

    days: int
    repairs: int
    comebacks: int
    still_followed: int
    rate: float | None
    low: float | None
    high: float | None


def comeback_rate(
    followed_days: Sequence[float], came_back: Sequence[bool], *, days: int = COMEBACK_DAYS
) -> ComebackRate:
    """Return the share of repairs that come back within `days`, one minus Kaplan-Meier.

    followed_days: (n,) days from repair to comeback, or to the notebook's newest note where none came.
    came_back: (n,) True where a comeback ended the span.
    """
    point = kaplan_meier(followed_days, came_back).at(days)
    spans = np.asarray(followed_days, dtype=np.float64)
    flags = np.asarray(came_back, dtype=bool)
    comebacks = int(np.count_nonzero(flags & (spans <= days)))
    # Past the last repair under watch the curve says nothing, unless it has already reached zero.
    known = len(spans) > 0 and (point.still_followed > 0 or point.survival == 0.0)
    low, high = 1.0 - point.high, 1.0 - point.low
    if point.survival == 1.0:
        low, high = wilson_interval(0, point.still_followed)
    elif point.survival == 0.0:
        low, high = wilson_interval(len(spans), len(spans))
    return ComebackRate(
        days=days,
        repairs=len(spans),
        comebacks=comebacks,
        still_followed=point.still_followed,
        rate=1.0 - point.survival if known else None,
        low=low if known else None,
        high=high if known else None,
    )
