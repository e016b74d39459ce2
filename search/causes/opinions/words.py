"""How often each cause's cases have the very words of a complaint: naive Bayes on the posting lists.

Exact at any size, with nothing to fit: a case that has a word counts for its own cause.
"""

import numpy as np

from search.causes.context import ComplaintContext
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray

_KAPPA = 2.0  # cases of the whole notebook that a cause's own are shrunk with; chosen by us


def word_scores(context: ComplaintContext) -> FloatArray:
    """Return how much likelier the words are in cases of each cause than anywhere; (n_causes,), nats.

    sum over terms of weight * ln(share of the cause's cases with the term / share of all cases with it), each
    cause's share shrunk towards what its signs let expect. Terms of no usable case and no sign are left out.
    A case that has one more of the words never lowers its cause against another.
    """
    scores = np.zeros(context.cases.n_causes)
    for term in context.query.terms:
        own, anywhere = context.shares_with(term.term, _KAPPA)
        if anywhere > 0:
            scores += term.weight * np.log(own / anywhere)
    return scores


OPINION = Opinion(name="words", log_scores=word_scores, weight=0.25, most=1.5, from_words=True)
