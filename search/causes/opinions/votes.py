"""Past cases vote for their cause, each the more the more it is like the complaint and its set."""

import numpy as np

from search.causes.context import FLOOR, ComplaintContext, once
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray

# Chosen by us; tests/search/causes/test_odds.py notices when they change.
_TAU = 0.08  # how quickly a vote falls with similarity
_BACKOFF_SIMILARITY = 0.35  # at which one case is worth as much as all that is known without a word
_SAME_MAKE_AND_DEVICE, _SAME_DEVICE, _SAME_MAKE, _OTHER = 0.4, 0.25, 0.02, 0.01


@once
def case_votes(context: ComplaintContext) -> FloatArray:
    """Return the weight of each case's vote: by similarity, blinks, set and evidence; (size,)."""
    votes: FloatArray = np.exp((context.similarity - np.float32(1.0)) * np.float32(1 / _TAU))
    votes *= context.evidence
    votes *= context.blink_fit
    votes *= _nearness(context)
    return votes


def _nearness(context: ComplaintContext) -> FloatArray:
    """Return what a case is worth by its family, make and device; (size,), or one value for all."""
    cases, query = context.cases, context.query
    device = (cases.device == context.device) if context.device >= 0 else np.True_
    make = (cases.make == query.make) if query.make != -1 else np.True_
    worth = np.array([_OTHER, _SAME_MAKE, _SAME_DEVICE, _SAME_MAKE_AND_DEVICE], np.float32)
    near: FloatArray = worth[2 * np.asarray(device, np.int8) + make]
    return near if query.family == -1 else np.where(cases.family == query.family, np.float32(1.0), near)


@once
def _votes(context: ComplaintContext) -> FloatArray:
    """Return the sum of the votes for each cause; (n_causes,)."""
    return context.cases.sums(case_votes(context))


def cause_support(context: ComplaintContext) -> FloatArray:
    """Return the similarity that one case would need to have as many votes as each cause; (n_causes,)."""
    support: FloatArray = np.maximum(1 + _TAU * np.log(np.maximum(_votes(context), FLOOR)), 0.0)
    return support


def vote_shares(context: ComplaintContext) -> FloatArray:
    """Return the logarithm of each cause's share of the votes, backed off to its share in such sets."""
    votes, backing = _votes(context), np.exp((_BACKOFF_SIMILARITY - 1.0) / _TAU)
    shares = (votes + backing * context.shares[-1]) / (votes.sum() + backing)
    logs: FloatArray = np.log(np.maximum(shares, FLOOR))
    return logs


OPINION = Opinion(name="votes", log_scores=vote_shares, weight=0.5, most=1.2, from_words=True)
