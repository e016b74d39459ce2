"""How many repairs come back: Kaplan-Meier with censoring at the newest note.

By hand: one cumulative product. scipy's version lives in scipy.stats, which takes a second to load.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

import numpy as np

from search.stats.intervals import Z_95, wilson_interval

COMEBACK_DAYS = 90  # chosen by us; shown beside every rate


class Survival(NamedTuple):
    """The share that survives some time, within [0, 1], and its 95 % bounds.

    Where all or none survive the log-log interval does not exist; low and high are then the share itself.
    """

    share: float
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
    spans, came = np.asarray(durations, np.float64), np.asarray(happened, np.bool_)
    times, events = np.unique(spans[came & (spans <= time)], return_counts=True)
    at_risk = spans.size - np.searchsorted(np.sort(spans), times, side="left")
    share = float(np.prod(1.0 - events / at_risk))
    if not 0.0 < share < 1.0:
        return Survival(share, share, share)
    error = share * math.sqrt(np.sum(events / (at_risk * (at_risk - events))))
    width = Z_95 * error / (share * abs(math.log(share)))
    return Survival(share, share ** math.exp(width), share ** math.exp(-width))


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
    spans, back = np.asarray(followed_days, np.float64), np.asarray(came_back, np.bool_)
    comebacks = int(np.count_nonzero(back & (spans <= COMEBACK_DAYS)))
    followed = int(np.count_nonzero(spans >= COMEBACK_DAYS))
    counted = partial(ComebackRate, repairs=spans.size, comebacks=comebacks, still_followed=followed)
    share, low, high = kaplan_meier(followed_days, came_back, COMEBACK_DAYS)
    # Past the last repair under watch the curve says nothing, unless it has already reached zero.
    if not spans.size or (not followed and share > 0):
        return counted()
    low, high = 1.0 - high, 1.0 - low
    if share in (0.0, 1.0):
        low, high = wilson_interval(0, followed) if share else wilson_interval(spans.size, spans.size)
    return counted(rate=1.0 - share, low=low, high=high)
