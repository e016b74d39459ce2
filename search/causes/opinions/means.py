"""Class means: every past case adds to its own cause alone, however large the notebook."""

from __future__ import annotations

from search.causes.context import ComplaintContext
from search.causes.linear import LinearModel, fit_means
from search.causes.opinion import Opinion, TrainingRows
from search.stats.arrays import FloatArray

NAME = "means"
_SCALE = 80.0  # brings class means to the scale of log probabilities; chosen by us


def _fit(rows: TrainingRows, strength: float) -> LinearModel:
    model = fit_means(*rows)
    return LinearModel(weights=model.weights * _SCALE, offset=model.offset * _SCALE)


def _log_scores(context: ComplaintContext) -> FloatArray:
    return context.linear[NAME]


OPINION = Opinion(
    name=NAME,
    log_scores=_log_scores,
    weight=0.1,
    most=4.0,
    tempering=1.0,
    from_words=True,
    fit=_fit,
)
