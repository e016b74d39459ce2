"""How common the causes are in sets of the device, against the whole notebook, and in the family said."""

import numpy as np

from search.causes.context import FLOOR
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray


def _rise(here: FloatArray, around: FloatArray) -> FloatArray:
    """Return how much more common the causes are here than around; (n_causes,), nats."""
    logs: FloatArray = np.log(np.maximum(here, FLOOR) / np.maximum(around, FLOOR))
    return logs


DEVICE = Opinion(
    name="device",
    log_scores=lambda context: _rise(context.device_shares, context.shares[0]),
    weight=0.7,
    least=0.6,
    most=1.5,
)
FAMILY = Opinion(
    name="family",
    log_scores=lambda context: _rise(context.shares[-1], context.device_shares),
    weight=0.5,
    least=0.5,
    most=1.5,
)
