"""What an opinion on the causes is: one of the scores that are joined into the odds."""

from collections.abc import Callable
from dataclasses import dataclass

from search.causes.context import ComplaintContext
from search.causes.linear import LinearModel
from search.stats.arrays import FloatArray, IntArray

HOLD = 12.0  # the usual `held`; chosen by us


@dataclass(frozen=True, kw_only=True)
class Opinion:
    """One opinion on the causes of a complaint.

    name: under which its weight is kept. log_scores: returns logarithms of relative probabilities for a
    complaint, (n_causes,). weight: its usual weight in the joined odds; least, most: bounds when fitted.
    held: how firmly the weight is held near the usual one, in cases. from_words: few cases or words make it
    too sure, so it counts less then. denies: it goes by what is denied.

    fit: learns a linear model of the causes from rows of features, (n, width), their causes and evidence,
    (n,), and the number of causes; None if nothing is learned. stand_in: the opinion that gets its weight
    where fitting would take too long, "" for none.
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
        """Return the opinion's scores for a complaint, (n_causes,), lowered where few words were said."""
        scores = self.log_scores(context)
        return scores * context.telling if self.from_words else scores
