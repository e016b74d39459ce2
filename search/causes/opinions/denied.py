"""What an owner denies speaks against the causes whose cases show it, and never for them."""

import numpy as np

from search.causes.context import ComplaintContext
from search.causes.opinion import Opinion
from search.stats.arrays import FloatArray

# All chosen by us.
_KAPPA = 2.0  # cases of the whole notebook that a cause's own are shrunk with
_RELIABLE = 0.9  # share of denials that are true: owners overlook things
_NAMED = float(np.log(0.1))  # for a cause that names the very part denied: "not the pump, I changed it"


def _log_scores(context: ComplaintContext) -> FloatArray:
    """Return how much likelier a case of each cause lacks what is denied than any does; (n_causes,), nats.

    A cause whose every case shows it is hit as hard as any, however few they are; one that is called by what
    is denied is hit harder.
    """
    scores = np.zeros(context.cases.n_causes)
    for term in context.query.denied_terms:
        causes = context.cases.cause[context.corpus.source.postings("cause", term.term)[0]]
        scores[causes[causes >= 0]] = _NAMED
    for term in context.query.denied_terms:
        own, anywhere = context.shares_with(term.term, _KAPPA)
        if anywhere > 0:
            own = np.where(context.among.having(term.term) == context.counts, own.max(), own)
            scores += term.weight * np.log((1 - _RELIABLE * own) / (1 - _RELIABLE * anywhere))
    return scores


OPINION = Opinion(name="denied", log_scores=_log_scores, weight=1.0, least=0.5, most=1.5, denies=True)
