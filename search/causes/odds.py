"""Join the opinions into probabilities of the causes, and of a cause not in the notebook yet."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Self

import numpy as np

from kb.terms import Fault
from search.causes.context import ComplaintContext
from search.causes.novelty import chance_of_new_cause
from search.causes.opinions.signs import sign_that_tells
from search.causes.pool import Tuning, among_known, weighed_scores
from search.stats.arrays import FloatArray, IntArray

# Chosen by us; tests/search/causes/test_odds.py notices when they change.
_OTHER_DEVICES = 0.02  # share of repairs whose cause was met before, but not in this device
_RANK_BY_CAUSE = 0.3  # how much its cause's probability counts in ranking a case, beside its own votes


@dataclass(frozen=True, kw_only=True, eq=False)
class CauseOdds:
    """Hold the odds for one complaint.

    probability: (n_causes,), each within [0, 1]; with not_in_notebook they sum to 1.
    case_weight: (size,) how much each past case matters, 0 to 1; past cases are ranked by it.
    word_similarity, similarity: (size,) how alike words are, and words and meaning together, 0 to 1; blinks
    and family play no part. faults_unmet: see ComplaintContext. sign_that_tells: returns the sign that speaks
    for a cause (a code), "" where none is near, None where signs do not speak for it.
    """

    probability: FloatArray
    not_in_notebook: float
    case_weight: FloatArray
    word_similarity: FloatArray
    similarity: FloatArray
    faults_unmet: Callable[[str], list[tuple[Fault, float]]] = lambda device: []
    sign_that_tells: Callable[[int], str | None] = lambda cause: None

    def without(self, causes: Sequence[int] | IntArray) -> Self:
        """Return the odds after causes were ruled out: theirs are 0, all others rise in proportion."""
        probability = self.probability.copy()
        probability[np.asarray(causes, np.int64)] = 0.0
        total = float(probability.sum()) + self.not_in_notebook
        if total <= 0:
            return replace(self, probability=probability, not_in_notebook=1.0)
        return replace(self, probability=probability / total, not_in_notebook=self.not_in_notebook / total)


def cause_odds(context: ComplaintContext, tuning: Tuning) -> CauseOdds:
    """Return the odds of every cause for one complaint. A cause without a usable case has probability 0."""
    cases, usable = context.cases, context.usable
    if not usable.any():
        return CauseOdds(
            probability=np.zeros(cases.n_causes),
            not_in_notebook=1.0,
            case_weight=np.zeros(cases.size),
            word_similarity=np.zeros(cases.size),
            similarity=np.zeros(cases.size),
            faults_unmet=context.faults_unmet,
        )
    affirmed, denied = (weighed_scores(context, tuning, denying=each) for each in (False, True))
    told = among_known(context.known, affirmed + denied)
    # Notes err and faults surprise: some share of the prior keeps even the surest answer below certainty.
    probability = (1 - tuning.prior_mixture) * told + tuning.prior_mixture * np.exp(context.log_prior)
    likely = among_known(context.known, affirmed)
    new = chance_of_new_cause(context, likely)
    # A denied symptom lowers known causes that show it, and so raises the chance of a new cause.
    new /= new + (1 - new) * min(1.0, float(likely @ np.exp(denied)))
    chances: FloatArray = (1 - new) * cap_other_devices(context, probability)
    by_cause = np.append(probability**_RANK_BY_CAUSE, 0.0).astype(np.float32)
    weight = context.case_votes * by_cause.take(cases.bucket)
    return CauseOdds(
        probability=chances,
        not_in_notebook=min(max(1 - float(chances.sum()), new), 1.0),
        case_weight=weight / max(weight.max(), np.float32(1e-30)),
        word_similarity=context.word_similarity,
        similarity=context.similarity,
        faults_unmet=context.faults_unmet,
        sign_that_tells=partial(sign_that_tells, context, tuning.weights),
    )


def cap_other_devices(context: ComplaintContext, probability: FloatArray) -> FloatArray:
    """Return probabilities in which causes never met in the device have a few per cent together.

    However well a microwave's complaint fits, the set is a television: what is taken off goes to a cause that
    is not in the notebook yet.
    """
    if context.device < 0:
        return probability
    met = context.cases.sums(context.evidence * (context.cases.device == context.device))
    most = _OTHER_DEVICES + 1 / (1 + float(met.sum()))
    share = float(probability[met == 0].sum())
    if share <= most or share >= 1.0:
        return probability
    return probability * np.where(met == 0, most / share, 1.0)
