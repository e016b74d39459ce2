"""How many repairs come back: Kaplan-Meier with censoring at the newest note.

By hand: one cumulative product. scipy's version lives in scipy.stats, which takes a second to load.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from search.stats.arrays import BoolArray, FloatArray, IntArray
from search.stats.intervals import Z_95, wilson_interval

COMEBACK_DAYS = 90  # chosen by us; shown beside every rate


@dataclass(frozen=True, kw_only=True, eq=False)
class SurvivalCurve:
    """A Kaplan-Meier curve: arrays of shape (k,), one entry for each time with an event, ascending.

    standard_error: Greenwood's, of the survival; both within [0, 1].
    """

    times: FloatArray
    at_risk: IntArray
    events: IntArray
    survival: FloatArray
    standard_error: FloatArray

    def at(self, time: float) -> tuple[float, float, float]:
        """Return survival at a time (unit of the durations) and its 95 % log-log interval.

        Where the curve is still 1 or already 0 that interval does not exist; all three are then the survival.

        Source:
            Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data (from memory).
        """
        passed = int(np.searchsorted(self.times, time, side="right"))
        survival = float(self.survival[passed - 1]) if passed else 1.0
        if not 0.0 < survival < 1.0:
            return survival, survival, survival
        width = Z_95 * float(self.standard_error[passed - 1]) / (survival * abs(math.log(survival)))
        return survival, survival ** math.exp(width), survival ** math.exp(-width)


def kaplan_meier(durations: Sequence[float], happened: Sequence[bool]) -> SurvivalCurve:
    """Return the Kaplan-Meier curve of durations, some of them censored.

    Args:
        durations: length n, not negative, any unit.
        happened: length n, True where the event came, False where censored. Ties: an event and a censoring at
            one time, the event counts as earlier.

    Raises:
        ValueError: lengths differ or a duration is negative.

    Source:
        Kaplan and Meier 1958; Greenwood 1926 (both from memory).
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
    return SurvivalCurve(times=times, at_risk=at_risk, events=events, survival=survival, standard_error=error)


@dataclass(frozen=True, kw_only=True)
class ComebackRate:
    """The share of fixed repairs that come back within COMEBACK_DAYS, within [0, 1], and its 95 % interval.

    comebacks: counted so far, of `repairs`. still_followed: repairs watched all the way. rate, low and high
    are None while no repair was watched that long (nor have all come back).
    """

    repairs: int
    comebacks: int
    still_followed: int
    rate: float | None = None
    low: float | None = None
    high: float | None = None


def comeback_rate(followed_days: Sequence[float], came_back: Sequence[bool]) -> ComebackRate:
    """Return the share of repairs that come back within COMEBACK_DAYS, one minus Kaplan-Meier.

    Where none or all came back, Wilson's interval over the repairs watched all the way stands in.

    Args:
        followed_days: length n, days from repair to comeback, or to the newest note where none came.
        came_back: length n, True where a comeback ended the span.
    """
    spans = np.asarray(followed_days, dtype=np.float64)
    survival, low, high = kaplan_meier(followed_days, came_back).at(COMEBACK_DAYS)
    comebacks = int(np.count_nonzero(np.asarray(came_back, dtype=bool) & (spans <= COMEBACK_DAYS)))
    followed = int(np.count_nonzero(spans >= COMEBACK_DAYS))
    # Past the last repair under watch the curve says nothing, unless it has already reached zero.
    if not spans.size or (not followed and survival > 0):
        return ComebackRate(repairs=spans.size, comebacks=comebacks, still_followed=followed)
    if survival == 1.0:
        bounds = wilson_interval(0, followed)
    elif survival == 0.0:
        bounds = wilson_interval(spans.size, spans.size)
    else:
        bounds = 1.0 - high, 1.0 - low
    return ComebackRate(
        repairs=spans.size,
        comebacks=comebacks,
        still_followed=followed,
        rate=1.0 - survival,
        low=bounds[0],
        high=bounds[1],
    )
