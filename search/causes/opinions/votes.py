"""Past cases vote for their cause, each the more the more it is like the complaint and its set."""

import numpy as np

from search.causes.context import FLOOR, TAU, ComplaintContext
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray

# Chosen by us; tests/search/causes/test_odds.py notices when it changes.
_BACKOFF_SIMILARITY = 0.35  # at which one case is worth as much as all that is known without a word


def vote_shares(context: ComplaintContext) -> FloatArray:
    """Return the logarithm of each cause's share of the votes, backed off to its share in such sets."""
    votes, backing = context.votes, np.exp((_BACKOFF_SIMILARITY - 1.0) / TAU)
    shares = (votes + backing * context.shares[-1]) / (votes.sum() + backing)
    logs: FloatArray = np.log(np.maximum(shares, FLOOR))
    return logs


OPINION = Opinion(name="votes", log_scores=vote_shares, weight=0.5, most=1.2, from_words=True)
