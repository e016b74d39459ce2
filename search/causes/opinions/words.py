"""How often each cause's cases have the words said, or denied: naive Bayes on the posting lists.

Exact at any size, with nothing to fit.
"""

import numpy as np

from search.causes.context import ComplaintContext
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray

# All chosen by us.
_KAPPA = 2.0  # average cases of the whole notebook added to each cause's own
_RELIABLE = 0.9  # share of denials that are true: owners overlook things
_NAMED = float(np.log(0.1))  # for a cause that names the very part denied: "not the pump, I changed it"


def word_scores(context: ComplaintContext) -> FloatArray:
    """Return how much likelier the words are in cases of each cause than anywhere; (n_causes,), nats.

    The sum over terms of weight * ln(share of the cause's cases with the term / share of all cases with it).
    Each cause's share is shrunk towards what its signs predict. Terms of no usable case and no sign are left
    out. One more word in a case never lowers its cause against another.
    """
    scores = np.zeros(context.cases.n_causes)
    for term in context.query.terms:
        own, anywhere = context.shares_with(term.term, _KAPPA)
        if anywhere > 0:
            scores += term.weight * np.log(own / anywhere)
    return scores


def _denied_scores(context: ComplaintContext) -> FloatArray:
    """Return how much likelier cases of each cause lack what is denied than others; (n_causes,), nats.

    A cause whose cases all show it is lowered as much with one case as with many. A cause named after what is
    denied is lowered more.
    """
    scores = np.zeros(context.cases.n_causes)
    for term in context.query.denied_terms:
        causes = context.cases.cause[context.corpus.source.postings("cause", term.term)[0]]
        scores[causes[causes >= 0]] = _NAMED
    for term in context.query.denied_terms:
        own, anywhere = context.shares_with(term.term, _KAPPA)
        if anywhere > 0:
            own = np.where(context.usable_cases.evidence_with(term.term) == context.counts, own.max(), own)
            scores += term.weight * np.log((1 - _RELIABLE * own) / (1 - _RELIABLE * anywhere))
    return scores


WORDS = Opinion(name="words", log_scores=word_scores, weight=0.25, most=1.5, from_words=True)
# What is denied speaks against causes whose cases show it, and for no cause.
DENIED = Opinion(name="denied", log_scores=_denied_scores, weight=1.0, least=0.5, most=1.5, denies=True)
