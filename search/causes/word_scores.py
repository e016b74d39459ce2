"""How often each cause's cases have the very words of a complaint: naive Bayes on the posting lists.

Exact at any size, with nothing to fit: a case that has a word counts for its own cause.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from search.causes.past_cases import PastCases
from search.index.postings import PostingSource
from search.scoring.bm25f import QueryTerm
from search.stats.arrays import BoolArray, FloatArray

_FIELD = "complaint"
_KAPPA = 2.0  # cases of the whole notebook that a cause's own are shrunk with; chosen by us


def word_scores(
    terms: Sequence[QueryTerm], source: PostingSource, cases: PastCases, mask: BoolArray
) -> FloatArray:
    """Return how much likelier the words are in cases of each cause than anywhere; (n_causes,), nats.

    sum over terms of weight * ln(share of the cause's cases with the term / share of all cases with it), each
    cause's share shrunk towards that of all. Terms of no usable case are left out. mask: (size,) usable ones.
    A case that has one more of the words never lowers its cause against another.
    """
    scores = np.zeros(cases.n_causes)
    evidence = np.where(mask & (cases.cause >= 0), cases.evidence, 0.0)
    total = float(evidence.sum())
    if total <= 0:
        return scores
    counts = cases.sums(evidence) + _KAPPA
    for term in terms:
        rows, _ = source.postings(_FIELD, term.term)
        rows = rows[evidence[rows] > 0]
        if not len(rows):
            continue
        having = np.bincount(cases.cause[rows], weights=evidence[rows], minlength=cases.n_causes)
        anywhere = float(having.sum()) / total
        scores += term.weight * np.log((having + _KAPPA * anywhere) / (counts * anywhere))
    return scores
