"""What the service sheet says the blinks mean, against the names of the causes."""

from search.causes.context import ComplaintContext
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray


def _log_scores(context: ComplaintContext) -> FloatArray:
    return context.sheet_logs


OPINION = Opinion(name="sheet", log_scores=_log_scores, weight=1.0, least=0.5, most=1.5)
