"""A multinomial logistic model of the causes on the words and the meaning of past complaints.

Every past case adds to its own cause and takes from the others, the more the more it is like the complaint.
"""

from search.causes.linear import LinearModel, fit_logistic
from search.causes.opinion import Opinion, TrainingRows, learned_scores

NAME = "logistic"


def _fit(rows: TrainingRows, strength: float) -> LinearModel:
    return fit_logistic(*rows, strength=strength)


OPINION = Opinion(
    name=NAME,
    log_scores=learned_scores(NAME),
    weight=0.5,
    most=1.6,
    tempering=1.0,
    from_words=True,
    fit=_fit,
    strengths=(16.0, 4.0, 48.0),
    costly=True,
    stand_in="means",
)
