"""The chance that the cause is not in the notebook yet: Good-Turing's, and how new the complaint looks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from search.causes.context import KAPPA, ComplaintContext
from search.causes.priors import new_share
from search.stats.arrays import BoolArray, FloatArray

_TEMPERING = 0.5  # how far little said makes a complaint look neither new nor known; chosen by us


@dataclass(frozen=True, kw_only=True)
class NoveltyModel:
    """Hold what is added to Good-Turing's log odds of a new cause.

    offset: at a middling best similarity. slope: for each step of similarity beyond it, never above 0.
    """

    offset: float = 0.0
    slope: float = 0.0
    middle: float = 0.5

    def chance(self, context: ComplaintContext) -> float:
        """Return the chance that the cause is not in the notebook yet; within (0, 1)."""
        base, similarity, sharpness = novelty_facts(context)
        odds = np.log(base / (1 - base)) + self.offset
        if context.query.has_terms:  # a family or a blink count alone is like no case in words, and no newer
            odds += min(self.slope, 0.0) * sharpness * (similarity - self.middle)
        return float(1 / (1 + np.exp(-odds)))


def novelty_facts(context: ComplaintContext) -> tuple[float, float, float]:
    """Return Good-Turing's chance, the best similarity of a usable case, and how much that tells, 0 to 1."""
    best = float(context.similarity[context.usable].max())
    return good_turing(context), best, context.informativeness**_TEMPERING


def good_turing(context: ComplaintContext) -> float:
    """Return the chance of a new cause among cases like this set, whatever the complaint says."""
    cases, usable = context.cases, context.usable
    once = usable & (cases.sums(usable)[np.maximum(cases.cause, 0)] == 1)
    chance = new_share(int(once.sum()), int(usable.sum()))
    for near in context.neighbourhoods:
        near = near & usable
        chance = new_share(int((once & near).sum()), int(near.sum()), parent=chance, kappa=KAPPA)
    return chance


def fit_novelty(facts: FloatArray, new: BoolArray) -> NoveltyModel:
    """Return the model that fits cases held out best, held near no change.

    facts: (n, 3) as from `novelty_facts`; Good-Turing's chance is that of the very cases each was held out
    of, so that hiding a fifth of the cases does not make new causes look commoner than they are. new: (n,)
    whether the cause of each was new.
    """
    from scipy.optimize import minimize

    chance, likeness, sharp = facts.T
    middle = float(likeness.mean())
    if new.sum() < 10 or (~new).sum() < 10:
        return NoveltyModel(middle=middle)
    base = np.log(chance / (1 - chance))
    away = (likeness - middle) * sharp

    def objective(point: FloatArray) -> tuple[float, FloatArray]:
        odds = base + point[0] + point[1] * away
        wrong = 1 / (1 + np.exp(-odds)) - new
        value = float((np.logaddexp(0, odds) - new * odds).sum()) + 2 * point[0] ** 2 + 0.1 * point[1] ** 2
        return value, np.array([wrong.sum() + 4 * point[0], wrong @ away + 0.2 * point[1]])

    found = minimize(
        objective, np.zeros(2), jac=True, method="L-BFGS-B", bounds=[(-1.0, 1.0), (-12.0, 0.0)]
    ).x
    return NoveltyModel(offset=float(found[0]), slope=float(found[1]), middle=middle)
