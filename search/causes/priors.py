"""What is likely before a word is read: the shares of the causes, and the chance of a new one."""

from collections.abc import Sequence

import numpy as np

from search.stats.arrays import BoolArray, FloatArray


def backed_off_shares(
    levels: Sequence[FloatArray], *, kappas: Sequence[float], known: BoolArray
) -> FloatArray:
    """Return the share of each cause, each level shrunk towards the one around it.

    levels: evidence for each cause, (causes,), from the whole notebook to the family. kappas: how many cases
    the wider level is worth, for each level but the first. known: causes with a case; others get 0.
    share = (n * share of the level + kappa * wider share) / (n + kappa). The widest level is shrunk towards
    equal shares, worth half a case for each cause. Returns: shares that sum to 1 (all 0 if no cause is
    known).
    """
    causes = int(np.count_nonzero(known))
    shares = np.where(known, 1.0 / max(causes, 1), 0.0)
    worth = 0.5 * causes
    for counts, wider in zip(levels, [*kappas, 0.0], strict=True):
        total = counts.sum()
        if total + worth > 0:
            shares = (counts + worth * shares) / (total + worth)
        worth = wider
    return shares


def new_share(seen_once: float, seen: float, *, parent: float = 0.5, kappa: float = 1.0) -> float:
    """Return the chance that the next case has a cause not seen yet; within (0, 1) for kappa above 0.

    seen_once: causes met in one case only. seen: cases. parent: the chance in a wider neighbourhood. kappa:
    how many cases that is worth; the defaults keep the chance from being 0 or 1. Returns: Good-Turing's
    share, shrunk: (seen_once + kappa * parent) / (seen + kappa).
    Source: Good 1953, The Population Frequencies of Species and the Estimation of Population Parameters (from
    memory).
    """
    return float((seen_once + kappa * parent) / (seen + kappa))
