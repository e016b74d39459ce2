"""Opinions from past cases: their votes, how common causes are in such sets, and their blinks."""

from operator import attrgetter

import numpy as np

from search.causes.context import FLOOR, TAU, ComplaintContext
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray

# Chosen by us; tests/search/causes/test_odds.py notices when it changes.
_BACKOFF_SIMILARITY = 0.35  # at which the vote of one case counts as much as the shares in such sets


def _rise(here: FloatArray, around: FloatArray) -> FloatArray:
    """Return how much more common the causes are here than in the wider neighbourhood; (n_causes,), nats."""
    logs: FloatArray = np.log(np.maximum(here, FLOOR) / np.maximum(around, FLOOR))
    return logs


def _vote_shares(context: ComplaintContext) -> FloatArray:
    """Return the logarithm of each cause's share of the votes, shrunk towards its share in such sets."""
    votes, backing = context.votes, np.exp((_BACKOFF_SIMILARITY - 1.0) / TAU)
    return _rise((votes + backing * context.shares[-1]) / (votes.sum() + backing), np.ones(1))


def _device_rise(context: ComplaintContext) -> FloatArray:
    return _rise(context.device_shares, context.shares[0])


def _family_rise(context: ComplaintContext) -> FloatArray:
    return _rise(context.shares[-1], context.device_shares)


# Each past case votes for its cause; the more it is like the complaint and its set, the more it counts.
VOTES = Opinion(name="votes", log_scores=_vote_shares, weight=0.5, most=1.2, from_words=True)
# How common the causes are in sets of the device, compared with the whole notebook, and in the family.
DEVICE = Opinion(name="device", log_scores=_device_rise, weight=0.7, least=0.6, most=1.5)
FAMILY = Opinion(name="family", log_scores=_family_rise, weight=0.5, least=0.5, most=1.5)
# A blink count does not depend on the words beside it, so it counts in full, as Bayes' rule has it, or more.
BLINKS = Opinion(name="blinks", log_scores=attrgetter("blink_logs"), weight=1.0, least=1.0, most=1.5)
# How well the names of the causes fit what the service sheet says of the blinks.
SHEET = Opinion(name="sheet", log_scores=attrgetter("sheet_logs"), weight=1.0, least=0.5, most=1.5)
