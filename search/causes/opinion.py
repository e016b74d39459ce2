"""What an opinion on the causes is: one voice among those that are joined into the odds."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from search.causes.context import ComplaintContext
from search.causes.linear import LinearModel
from search.stats.arrays import FloatArray, IntArray


class TrainingRows(NamedTuple):
    """Past cases as a linear model learns them.

    rows: (n, width) features. classes: (n,) in 0 .. classes_met - 1. evidence: (n,) how much each row counts,
    0 to 1.
    """

    rows: FloatArray
    classes: IntArray
    evidence: FloatArray
    classes_met: int


def learned_scores(name: str) -> Callable[[ComplaintContext], FloatArray]:
    """Return what looks up the scores of the linear model that the opinion of a name has learned."""
    return lambda context: context.linear[name]


@dataclass(frozen=True, kw_only=True)
class Opinion:
    """One opinion on the causes of a complaint.

    name: what its weight is kept by. log_scores: natural logarithms of relative probabilities for a
    complaint, (n_causes,). weight: its usual exponent in the joined odds; least, most: bounds of the fitted
    one. tempering: how far it is flattened when little was said, 0 to 1.
    from_words: whether a handful of cases makes it too sure, so that it counts less in a small notebook.
    denies: whether it speaks of what is denied, which makes no complaint look new.

    fit: learns a linear model of the causes from past cases and a strength (how far they may pull it); None
    where nothing is learned. strengths: those to choose from, the usual one first. costly: whether it is
    left out where fitting would take too long; `stand_in` then takes its weight.
    """

    name: str
    log_scores: Callable[[ComplaintContext], FloatArray]
    weight: float
    most: float
    least: float = 0.0
    tempering: float = 0.0
    from_words: bool = False
    denies: bool = False
    fit: Callable[[TrainingRows, float], LinearModel] | None = None
    strengths: tuple[float, ...] = (1.0,)
    costly: bool = False
    stand_in: str = ""
