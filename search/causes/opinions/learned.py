"""Linear models of the causes on the words and the meaning of past complaints."""

from functools import partial

from search.causes.linear import LinearModel, fit_logistic, fit_means
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray, IntArray

# All chosen by us.
_STRENGTH = 16.0  # see fit_logistic(); half or twice as much loses next to nothing
_SCALE = 80.0  # brings class means to the scale of log probabilities


def _fit_means(rows: FloatArray, classes: IntArray, evidence: FloatArray, count: int) -> LinearModel:
    model = fit_means(rows, classes, evidence, count)
    return LinearModel(weights=model.weights * _SCALE, offset=model.offset * _SCALE)


# The more a past case is like the complaint, the more it adds to its own cause and takes from others.
LOGISTIC = Opinion(
    name="logistic",
    log_scores=lambda context: context.linear["logistic"],
    weight=0.5,
    most=1.6,
    from_words=True,
    fit=partial(fit_logistic, strength=_STRENGTH),
    stand_in="means",
)
# A past case adds to its own cause alone; this is quick even in a large notebook.
MEANS = Opinion(
    name="means",
    log_scores=lambda context: context.linear["means"],
    weight=0.1,
    most=4.0,
    from_words=True,
    fit=_fit_means,
)
