"""How common the causes are in sets of the device, against the whole notebook."""

import numpy as np

from search.causes.context import FLOOR, ComplaintContext
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray


def _log_scores(context: ComplaintContext) -> FloatArray:
    here, anywhere = (np.maximum(each, FLOOR) for each in (context.device_shares, context.shares[0]))
    logs: FloatArray = np.log(here / anywhere)
    return logs


OPINION = Opinion(name="device", log_scores=_log_scores, weight=0.7, least=0.6, most=1.5)
