"""Class means: every past case adds to its own cause alone, however large the notebook."""

from search.causes.linear import LinearModel, fit_means
from search.causes.opinion import Opinion, TrainingRows, learned_scores

NAME = "means"
_SCALE = 80.0  # brings class means to the scale of log probabilities; chosen by us


def _fit(rows: TrainingRows, strength: float) -> LinearModel:
    model = fit_means(*rows)
    return LinearModel(weights=model.weights * _SCALE, offset=model.offset * _SCALE)


OPINION = Opinion(
    name=NAME,
    log_scores=learned_scores(NAME),
    weight=0.1,
    most=4.0,
    tempering=1.0,
    from_words=True,
    fit=_fit,
)
