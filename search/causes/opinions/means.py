"""Class means: every past case adds to its own cause alone, however large the notebook."""

from search.causes.linear import LinearModel, fit_means
from search.causes.opinion import Opinion, learned_scores
from search.stats.arrays import FloatArray, IntArray

NAME = "means"
_SCALE = 80.0  # brings class means to the scale of log probabilities; chosen by us


def _fit(rows: FloatArray, classes: IntArray, evidence: FloatArray, count: int) -> LinearModel:
    model = fit_means(rows, classes, evidence, count)
    return LinearModel(weights=model.weights * _SCALE, offset=model.offset * _SCALE)


OPINION = Opinion(name=NAME, log_scores=learned_scores(NAME), weight=0.1, most=4.0, from_words=True, fit=_fit)
