"""What an opinion on the causes is: one voice among those that are joined into the odds."""

from collections.abc import Callable
from dataclasses import dataclass

from search.causes.context import ComplaintContext
from search.causes.linear import LinearModel
from search.stats.arrays import FloatArray, IntArray

HOLD = 12.0  # the usual `held`; chosen by us


@dataclass(frozen=True, kw_only=True)
class Opinion:
    """One opinion on the causes of a complaint.

    name: what its weight is kept by. log_scores: natural logarithms of relative probabilities for a
    complaint, (n_causes,). weight: its usual exponent in the joined odds; least, most: bounds of the fitted
    one. held: how firmly an exponent that is off by 1 is held near its usual value, in cases.
    from_words: whether a handful of cases or words makes it too sure, so that it counts less there.
    denies: whether it speaks of what is denied, which makes no complaint look new.

    fit: learns a linear model of the causes from rows of features, (n, width), their causes and evidence,
    (n,), and the number of causes; None where nothing is learned. stand_in: the opinion that takes its weight
    where fitting would take too long, "" where it never does.
    """

    name: str
    log_scores: Callable[[ComplaintContext], FloatArray]
    weight: float
    most: float
    least: float = 0.0
    held: float = HOLD
    from_words: bool = False
    denies: bool = False
    fit: Callable[[FloatArray, IntArray, FloatArray, int], LinearModel] | None = None
    stand_in: str = ""

    def scores(self, context: ComplaintContext) -> FloatArray:
        """Return the opinion's logarithms for a complaint, (n_causes,): a few words are taken down."""
        scores = self.log_scores(context)
        return scores * context.telling if self.from_words else scores
