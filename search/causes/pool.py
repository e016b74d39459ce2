"""Join the opinions into the odds of the causes: a logarithmic opinion pool with a little of the habits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from search.causes.context import ComplaintContext
from search.causes.linear import log_softmax
from search.causes.novelty import NoveltyModel
from search.causes.opinion import Opinion
from search.causes.opinions import OPINIONS
from search.stats.arrays import BoolArray, FloatArray, IntArray

# Chosen by us.
_HOLD = (
    12.0  # how firmly an exponent or the tempering that is off by 1 is held near its usual value, in cases
)
_MIXTURE_STEP = 0.03  # of the mixture, held as firmly as 1 of an exponent
_MOST_MIXTURE = 0.1


@dataclass(frozen=True, kw_only=True)
class Tuning:
    """Hold what is fitted on a notebook's own history; the defaults serve a small notebook.

    weights: the exponent of each opinion, by its name. strengths: how far each linear model may follow the
    cases, by its opinion's name. tempering: how much flatter opinions are when little was said.
    prior_mixture: share of cases that no word could have told, for which habit stands.
    novelty: how to tell a cause that is not in the notebook. fitted: whether these were fitted.
    cases: how many there were.
    """

    weights: Mapping[str, float]
    strengths: Mapping[str, float]
    tempering: float = 0.5
    prior_mixture: float = 0.02
    novelty: NoveltyModel = field(default_factory=NoveltyModel)
    fitted: bool = False
    cases: int = 0

    @classmethod
    def usual(cls, opinions: Sequence[Opinion] = OPINIONS, *, costly: bool = True) -> Tuning:
        """Return the defaults. costly: whether there is time for costly models; others stand in for them."""
        weights = {each.name: each.weight for each in opinions}
        for each in opinions:
            if each.costly and not costly:
                freed = weights.pop(each.name)
                if each.stand_in in weights:
                    weights[each.stand_in] += freed
        strengths = {each.name: each.strengths[0] for each in opinions if each.fit and each.name in weights}
        return cls(weights=weights, strengths=strengths)

    def opinions(self) -> list[Opinion]:
        """Return the opinions that have a weight."""
        return [each for each in OPINIONS if each.name in self.weights]

    def humbled(self, share: float) -> Tuning:
        """Return the tuning with the weights of opinions from words taken down to a share, 0 to 1."""
        words = {each.name for each in OPINIONS if each.from_words}
        weights = {name: weight * (share if name in words else 1) for name, weight in self.weights.items()}
        return replace(self, weights=weights)


def affirmed_scores(context: ComplaintContext, tuning: Tuning) -> FloatArray:
    """Return the logarithm of the causes' relative probabilities from all but what is denied; (n_causes,).

    Without words the habits of such sets speak, and the blinks.
    """
    if not context.query.has_terms:
        return context.habits
    return _weighed(context, tuning, denying=False)


def denial_scores(context: ComplaintContext, tuning: Tuning) -> FloatArray:
    """Return what is to be added to those for what is denied, against a new cause; (n_causes,)."""
    return _weighed(context, tuning, denying=True)


def _weighed(context: ComplaintContext, tuning: Tuning, *, denying: bool) -> FloatArray:
    scores = np.zeros(context.cases.n_causes)
    for each in tuning.opinions():
        if each.denies == denying:
            flat = context.informativeness ** (tuning.tempering * each.tempering) if each.tempering else 1.0
            scores += tuning.weights[each.name] * flat * each.log_scores(context)
    return scores


def among_known(context: ComplaintContext, scores: FloatArray) -> FloatArray:
    """Return the probabilities that log scores stand for, of the known causes; (n_causes,), sum 1."""
    chances: FloatArray = np.exp(log_softmax(np.where(context.known, scores, -np.inf)))
    return chances


@dataclass(frozen=True, kw_only=True, eq=False)
class HeldOut:
    """Hold what the opinions say of cases held out.

    truth: (n,) cause codes. known: (n, n_causes) causes that the other cases have. scores: of each opinion by
    name, (n, n_causes). habits: (n,) chance of the true cause before a word was read. informativeness: (n,).
    """

    truth: IntArray
    known: BoolArray
    scores: Mapping[str, FloatArray]
    habits: FloatArray
    informativeness: FloatArray

    @property
    def met(self) -> BoolArray:
        """Whether the other cases know the cause of each; (n,)."""
        found: BoolArray = self.known[np.arange(len(self.truth)), self.truth]
        return found

    def of_known_causes(self) -> HeldOut:
        """Return the cases whose cause is among the known ones."""
        return HeldOut(
            truth=self.truth[self.met],
            known=self.known[self.met],
            scores={name: scores[self.met] for name, scores in self.scores.items()},
            habits=self.habits[self.met],
            informativeness=self.informativeness[self.met],
        )

    def affirmed(self, tuning: Tuning) -> FloatArray:
        """Return the probabilities of the known causes from all but what is denied; (n, n_causes)."""
        joined = np.zeros(self.known.shape)
        for each in tuning.opinions():
            if not each.denies:
                flat = np.maximum(self.informativeness, 1e-9) ** (tuning.tempering * each.tempering)
                joined += (tuning.weights[each.name] * flat)[:, None] * self.scores[each.name]
        chances: FloatArray = np.exp(log_softmax(np.where(self.known, joined, -np.inf)))
        return chances


def fit_pool(held: HeldOut, usual: Tuning, opinions: Sequence[Opinion]) -> tuple[Tuning, float]:
    """Fit weights, tempering and mixture to cases held out by least log loss; return the loss beside them.

    All are fitted together, within the opinions' bounds, and held near their usual values: a few cases cannot
    move them far. What is returned never loses more on these cases than the usual values do.
    Source: logarithmic opinion pool, Genest and Zidek 1986 (from memory).
    """
    from scipy.optimize import minimize  # takes longer to load than a whole answer: only where it is needed

    names = [each.name for each in opinions]
    unit = np.array([*[1.0] * len(names), 1.0, _MIXTURE_STEP])
    start = np.array([*(usual.weights[name] for name in names), usual.tempering, usual.prior_mixture]) / unit
    most = _MOST_MIXTURE / _MIXTURE_STEP
    bounds = [*((each.least, each.most) for each in opinions), (0.0, 1.0), (0.0, most)]
    loss = _PoolLoss(held, opinions)

    def objective(point: FloatArray) -> tuple[float, FloatArray]:
        value, gradient = loss(point * unit)
        away = point - start
        return value + 0.5 * _HOLD * float(away @ away), gradient * unit + _HOLD * away

    found = minimize(
        objective, start, jac=True, method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-10, "gtol": 1e-6}
    )
    *weights, tempering, mixture = (found.x * unit).tolist()
    tuned = replace(
        usual,
        weights=dict(zip(names, weights, strict=True)),
        tempering=tempering,
        prior_mixture=mixture,
    )
    return tuned, float(found.fun)


class _PoolLoss:
    """Work out the log loss of a pool on cases held out, in nats over all cases, and its gradient."""

    def __init__(self, held: HeldOut, opinions: Sequence[Opinion]) -> None:
        self._habits, self._known = held.habits, held.known
        self._own = np.arange(len(held.truth)), held.truth
        self._scores = [np.where(held.known, held.scores[each.name], 0.0) for each in opinions]
        self._share = np.array([each.tempering for each in opinions])
        self._log_told = np.log(np.maximum(held.informativeness, 1e-9))

    def __call__(self, point: FloatArray) -> tuple[float, FloatArray]:
        weights, tempering, mixture = point[:-2], point[-2], point[-1]
        flat = np.exp(np.outer(tempering * self._share, self._log_told))  # (opinions, n)
        joined = sum(
            (weight * each)[:, None] * scores
            for weight, each, scores in zip(weights, flat, self._scores, strict=True)
        )
        chances = np.exp(log_softmax(np.where(self._known, joined, -np.inf)))
        told = chances[self._own]
        own = np.maximum((1 - mixture) * told + mixture * self._habits, 1e-12)
        # How far each opinion's score of the true cause is above what it gives on average.
        above = np.stack(
            [
                each * (scores[self._own] - np.einsum("nc,nc->n", chances, scores))
                for each, scores in zip(flat, self._scores, strict=True)
            ]
        )
        pull = (1 - mixture) * told / own
        by_weight = above @ pull
        by_tempering = float((weights * self._share) @ above @ (pull * self._log_told))
        by_mixture = float(((self._habits - told) / own).sum())
        return -float(np.log(own).sum()), -np.array([*by_weight, by_tempering, by_mixture])
