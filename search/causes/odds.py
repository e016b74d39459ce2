"""From past cases to probabilities: what is it probably, how sure are we, and which cases say so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from search.causes.fitting import log_softmax
from search.causes.opinions import Setting, Tuning
from search.causes.past_cases import Asked, PastCases
from search.stats.arrays import BoolArray, FloatArray, IntArray

# Chosen by us; tests/search/test_causes.py notices when it changes.
_RANK_BY_CAUSE = 0.3  # how far a case is ranked by its cause's probability beside its own likeness


@dataclass(frozen=True, kw_only=True, eq=False)
class CauseOdds:
    """Hold the odds for one complaint.

    probability: (n_causes,), each within [0, 1]; with not_in_notebook they sum to 1.
    case_weight: (size,) how much each past case matters to this complaint, 0 to 1, 0 where it may not be
    used; past cases are ranked by it. share: (size,) each case's part in its own cause's votes, 0 to 1.
    likeness: (size,) how alike words and meaning are, 0 to 1, whatever was said of blinks and family.
    """

    probability: FloatArray
    not_in_notebook: float
    case_weight: FloatArray
    share: FloatArray
    likeness: FloatArray

    def without(self, causes: Sequence[int] | IntArray) -> CauseOdds:
        """Return the odds after causes were ruled out: those fall to 0, all else rises in proportion."""
        probability = self.probability.copy()
        probability[np.asarray(causes, np.int64)] = 0.0
        total = float(probability.sum()) + self.not_in_notebook
        if total <= 0:
            return replace(self, probability=probability, not_in_notebook=1.0)
        return replace(self, probability=probability / total, not_in_notebook=self.not_in_notebook / total)

    def evidence(self, cases: PastCases, cause: int, limit: int) -> IntArray:
        """Return the rows behind a cause's probability, the weightiest first (ties: lowest row first)."""
        rows = np.flatnonzero((cases.cause == cause) & (self.case_weight > 0))
        order = np.argsort(-self.case_weight[rows], kind="stable")
        chosen: IntArray = rows[order[:limit]]
        return chosen


def cause_odds(cases: PastCases, asked: Asked, tuning: Tuning, *, usable: BoolArray) -> CauseOdds:
    """Return the odds of every cause for one complaint.

    usable: (size,) the past cases that may be used. A cause without a usable case has probability 0.
    """
    usable = usable & (cases.cause >= 0)
    if not usable.any():
        none = np.zeros(cases.size)
        return CauseOdds(
            probability=np.zeros(cases.n_causes),
            not_in_notebook=1.0,
            case_weight=none,
            share=none,
            likeness=asked.likeness(tuning.meaning_share),
        )
    setting = Setting(cases, asked, tuning, usable)
    told = np.exp(log_softmax(np.where(setting.known, setting.joined(), -np.inf)))
    # Notes err and faults surprise: what the words can never tell keeps the surest answers honest.
    probability = (1 - tuning.doubt) * told + tuning.doubt * np.exp(setting.habits)
    new = setting.not_in_notebook()
    chances: FloatArray = (1 - new) * setting.kept_to_device(probability)
    new = min(max(1 - float(chances.sum()), new), 1.0)
    votes = setting.votes()
    own = probability[np.maximum(cases.cause, 0)] ** _RANK_BY_CAUSE
    weight = np.where(usable, votes * own, 0.0)
    total = cases.sums(votes)
    return CauseOdds(
        probability=chances,
        not_in_notebook=new,
        case_weight=weight / max(float(weight.max()), 1e-300),
        share=np.where(usable, votes / np.maximum(total[np.maximum(cases.cause, 0)], 1e-300), 0.0),
        likeness=setting.likeness,
    )
