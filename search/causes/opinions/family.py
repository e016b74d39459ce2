"""How common the causes are in the family said, against the device."""

import numpy as np

from search.causes.context import FLOOR, ComplaintContext
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray


def _log_scores(context: ComplaintContext) -> FloatArray:
    here, around = (np.maximum(each, FLOOR) for each in (context.shares[-1], context.device_shares))
    logs: FloatArray = np.log(here / around)
    return logs


OPINION = Opinion(name="family", log_scores=_log_scores, weight=0.5, least=0.5, most=1.5)
