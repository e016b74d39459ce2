"""General knowledge of how faults show, for words that no case of the notebook has used yet."""

from collections.abc import Mapping

import numpy as np

from search.causes.context import ComplaintContext
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray

_BESIDE_BLINKS = 0.25  # weight beside a blink count, which says more than the words; chosen by us
_TELLS_SOMETHING = float(np.log(1.5))  # a sign is quoted only if it makes a cause so many times as likely


def _log_scores(context: ComplaintContext) -> FloatArray:
    found = context.fault_odds
    if found is None:
        return np.zeros(context.cases.n_causes)
    return (1.0 if context.query.blinks is None else _BESIDE_BLINKS) * found.of_causes


def sign_that_tells(context: ComplaintContext, weights: Mapping[str, float], cause: int) -> str | None:
    """Return the sign nearest to a complaint, "" where none is near; None where signs do not raise a cause.

    weights: of opinions.
    """
    raised = weights.get(OPINION.name) and _log_scores(context)[cause] >= _TELLS_SOMETHING
    return context.fault_odds.nearest_sign(cause) if raised and context.fault_odds else None


# Held firmly: the history to fit on is in words that cases have used, and signs are for all others.
OPINION = Opinion(name="signs", log_scores=_log_scores, weight=0.6, most=1.5, held=150.0)
