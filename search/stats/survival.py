"""How many repairs come back: Kaplan-Meier with censoring at the newest note.

By hand: one cumulative product. scipy's version lives in scipy.stats, which takes a second to load.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from search.stats.arrays import BoolArray
from search.stats.intervals import Z_95, wilson_interval

COMEBACK_DAYS = 90  # chosen by us; shown beside every rate


@dataclass(frozen=True, kw_only=True)
class Survival:
    """The share that survives some time, within [0, 1], its Greenwood standard error and 95 % bounds.

    Where all or none survive the log-log interval does not exist; low and high are then the share itself.
    """

    share: float
    standard_error: float
    low: float
    high: float


def kaplan_meier(durations: Sequence[float], happened: Sequence[bool], time: float) -> Survival:
    """Return the Kaplan-Meier estimate of the share that survives a time.

    durations: length n, not negative, any unit. happened: length n, True where the event came, False where
    censored; of an event and a censoring at one time the event counts as earlier. time: in the same unit; an
    event at this time counts.
    Source: Kaplan and Meier 1958; Greenwood 1926; the log-log interval: Kalbfleisch and Prentice, The
    Statistical Analysis of Failure Time Data (all from memory).
    """
    spans = np.asarray(durations, dtype=np.float64)
    came: BoolArray = np.asarray(happened, dtype=bool)
    times, events = np.unique(spans[came & (spans <= time)], return_counts=True)
    at_risk = spans.size - np.searchsorted(np.sort(spans), times, side="left")
    share = float(np.prod(1.0 - events / at_risk))
    if not 0.0 < share < 1.0:
        return Survival(share=share, standard_error=0.0, low=share, high=share)
    error = share * math.sqrt(np.sum(events / (at_risk * (at_risk - events))))
    width = Z_95 * error / (share * abs(math.log(share)))
    low, high = share ** math.exp(width), share ** math.exp(-width)
    return Survival(share=share, standard_error=error, low=low, high=high)


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
    followed_days: length n, days from repair to comeback, or to the newest note where none came. came_back:
    length n, True where a comeback ended the span.
    """
    spans = np.asarray(followed_days, dtype=np.float64)
    survival = kaplan_meier(followed_days, came_back, COMEBACK_DAYS)
    rate = ComebackRate(
        repairs=spans.size,
        comebacks=int(np.count_nonzero(np.asarray(came_back, dtype=bool) & (spans <= COMEBACK_DAYS))),
        still_followed=int(np.count_nonzero(spans >= COMEBACK_DAYS)),
    )
    # Past the last repair under watch the curve says nothing, unless it has already reached zero.
    if not spans.size or (not rate.still_followed and survival.share > 0):
        return rate
    low, high = 1.0 - survival.high, 1.0 - survival.low
    if survival.share == 1.0:
        low, high = wilson_interval(0, rate.still_followed)
    elif survival.share == 0.0:
        low, high = wilson_interval(spans.size, spans.size)
    return replace(rate, rate=1.0 - survival.share, low=low, high=high)
