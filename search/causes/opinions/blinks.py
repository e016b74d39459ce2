"""How likely each cause shows the blinks that were said."""

from search.causes.context import ComplaintContext
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray


def _log_scores(context: ComplaintContext) -> FloatArray:
    return context.blink_logs


# A blink count does not depend on the words beside it, so it counts in full, as Bayes' rule has it, or more.
OPINION = Opinion(name="blinks", log_scores=_log_scores, weight=1.0, least=1.0, most=1.5)
