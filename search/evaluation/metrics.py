"""Measures of ranking and calibration, as the literature defines them, and their lines for a terminal."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from search.records import JsonRecord
from search.stats.arrays import BoolArray, FloatArray, IntArray


def ranks_of(probabilities: FloatArray, truth: IntArray) -> FloatArray:
    """Return the rank of the true class of each row, (n,), from 1; ties: their mean; inf for truth -1."""
    own = probabilities[np.arange(len(truth)), np.maximum(truth, 0)][:, None]
    better, tied = (probabilities > own).sum(axis=1), (probabilities == own).sum(axis=1)
    ranks: FloatArray = np.where(truth >= 0, better + (tied + 1) / 2, np.inf)
    return ranks


def area_under_curve(scores: FloatArray, positive: BoolArray) -> float:
    """Return how often a positive scores above a negative, ties counting half; nan if either is missing."""
    from scipy.stats import mannwhitneyu  # here, as it takes a second to load

    pairs = np.count_nonzero(positive) * np.count_nonzero(~positive)
    return float(mannwhitneyu(scores[positive], scores[~positive]).statistic) / pairs if pairs else math.nan


def at_share(claimed: FloatArray, share: float) -> FloatArray:
    """Shift probabilities in log odds so that their mean is `share`. Source: Saerens 2002 (from memory)."""
    from scipy.optimize import brentq
    from scipy.special import expit, logit

    odds = logit(np.clip(claimed, 1e-12, 1 - 1e-12))
    step = brentq(lambda shift: float(expit(odds + shift).mean()) - share, -60.0, 60.0)
    moved: FloatArray = expit(odds + step)
    return moved


@dataclass(frozen=True, kw_only=True)
class ReliabilityBin(JsonRecord):
    """One bin of a reliability table: its bounds, its rows, the mean claim, and the share that came true."""

    low: float
    high: float
    count: int
    mean_predicted: float
    observed: float


def reliability(claimed: FloatArray, came_true: BoolArray, *, bins: int = 10) -> tuple[ReliabilityBin, ...]:
    """Return the reliability table over equal bins of [0, 1]; empty bins are left out.

    claimed: (n,) probabilities. came_true: (n,). A claim at a bound belongs to the bin above.
    Source: Guo and others 2017, On Calibration of Modern Neural Networks (from memory).
    """
    at = np.minimum((claimed * bins).astype(np.int64), bins - 1)
    return tuple(
        ReliabilityBin(
            low=place / bins,
            high=(place + 1) / bins,
            count=int(np.count_nonzero(at == place)),
            mean_predicted=float(np.mean(claimed[at == place])),
            observed=float(np.mean(came_true[at == place])),
        )
        for place in np.unique(at).tolist()
    )


def expected_calibration_error(table: Sequence[ReliabilityBin]) -> float:
    """Return the mean gap between claimed and observed, weighted by rows; 0 to 1."""
    gaps = sum(each.count * abs(each.mean_predicted - each.observed) for each in table)
    return gaps / sum(each.count for each in table)


def measures_table(*rows: tuple[str, str, str]) -> str:
    """Return aligned lines of a name, a value and its meaning."""
    names, values = (max(len(row[column]) for row in rows) for column in (0, 1))
    return "\n".join(f"{name:<{names}}  {value:>{values}}  {says}".rstrip() for name, value, says in rows)


def per_cent(share: float) -> str:
    """Return a share in whole per cent, a dash for nan."""
    return "-" if share != share else f"{100 * share:.0f} %"


def reliability_lines(table: Sequence[ReliabilityBin]) -> str:
    """Return a line for each bin: what was claimed, what came true, and of how many cases."""
    lines = ["claimed       on average   came true   cases"]
    for each in table:
        span = f"{100 * each.low:.0f}-{100 * each.high:.0f} %"
        claimed, seen = per_cent(each.mean_predicted), per_cent(each.observed)
        lines.append(f"{span:<12}  {claimed:>10}   {seen:>9}   {each.count:>5}")
    return "\n".join(lines)
