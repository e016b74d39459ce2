"""Join opinions into odds: a logarithmic opinion pool, mixed with a little of the prior."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, Self

import numpy as np

from search.causes.context import ComplaintContext
from search.causes.linear import log_softmax, minimise
from search.causes.opinion import HOLD, Opinion
from search.causes.opinions import OPINIONS
from search.stats.arrays import BoolArray, FloatArray, IntArray

# Chosen by us.
_MIXTURE_STEP = 0.03  # a change of the mixture that is held as firmly as 1 of a weight
_MOST_MIXTURE = 0.1


@dataclass(frozen=True, kw_only=True)
class Tuning:
    """Hold what is fitted on a notebook's own history; the defaults serve a small notebook.

    weights: of the opinions, by name. prior_mixture: share of the prior in the probabilities, for faults that
    no words could have told. cases: number they were fitted on, 0 for the defaults.
    """

    weights: Mapping[str, float]
    prior_mixture: float = 0.02
    cases: int = 0

    @classmethod
    def usual(
        cls, opinions: Sequence[Opinion] = OPINIONS, *, costly: bool = True, from_words: float = 1.0
    ) -> Self:
        """Return the defaults. costly: there is time for costly models; otherwise their stand-ins serve.

        from_words: factor on the weights of opinions from words, 0 to 1.
        """
        weights = {each.name: each.weight * (from_words if each.from_words else 1) for each in opinions}
        for each in opinions:
            if each.stand_in and not costly:
                freed = weights.pop(each.name)
                if each.stand_in in weights:
                    weights[each.stand_in] += freed
        return cls(weights=weights)

    def opinions(self) -> list[Opinion]:
        """Return the opinions that have a weight."""
        return [each for each in OPINIONS if each.name in self.weights]


def weighed_scores(context: ComplaintContext, tuning: Tuning, *, denying: bool) -> FloatArray:
    """Return log scores from all but what is denied, the prior if no word was said; (n_causes,).

    denying: return instead what to add for what is denied.
    """
    if not (denying or context.query.terms):
        return context.log_prior
    scores = np.zeros(context.cases.n_causes)
    for each in tuning.opinions():
        if each.denies == denying:
            scores += tuning.weights[each.name] * each.scores(context)
    return scores


def among_known(known: BoolArray, scores: FloatArray) -> FloatArray:
    """Turn log scores into probabilities of the known causes; (..., n_causes), sum 1."""
    chances: FloatArray = np.exp(log_softmax(np.where(known, scores, -np.inf)))
    return chances


class HeldOut(NamedTuple):
    """Hold what the other cases say of n cases held out.

    truth: (n,) cause codes. known: (n, n_causes) causes of the other cases. prior: (n,) probability of the
    true cause before a word was read. scores: (n, opinions, n_causes).
    """

    truth: IntArray
    known: BoolArray
    prior: FloatArray
    scores: FloatArray


def fit_pool(held: HeldOut, usual: Tuning, opinions: Sequence[Opinion]) -> Tuning:
    """Fit weights and mixture to cases held out, by least log loss.

    All are fitted together within the opinions' bounds, and held near their usual values, so that few cases
    cannot move them far. On these cases the result is never worse than the usual values.
    Source: logarithmic opinion pool, Genest and Zidek 1986 (from memory).
    """
    names = [each.name for each in opinions]
    unit = np.array([*[1.0] * len(names), _MIXTURE_STEP])
    start = np.array([*(usual.weights[name] for name in names), usual.prior_mixture]) / unit
    hold = np.array([*(each.held for each in opinions), HOLD])
    bounds = [*((each.least, each.most) for each in opinions), (0.0, _MOST_MIXTURE / _MIXTURE_STEP)]
    scores = np.where(held.known, held.scores.swapaxes(0, 1), 0.0)
    own = np.arange(len(held.truth)), held.truth

    def objective(point: FloatArray) -> tuple[float, FloatArray]:
        mixture = point[-1] * _MIXTURE_STEP
        chances = among_known(held.known, np.tensordot(point[:-1], scores, 1))
        told = chances[own]
        # A case whose cause no other case has gets no probability, and moves nothing.
        right = np.maximum((1 - mixture) * told + mixture * held.prior, 1e-12)
        # How far each opinion's score of the true cause is above its average score.
        above = scores[:, *own] - np.einsum("nc,onc->on", chances, scores)
        by_weight = above @ ((1 - mixture) * told / right)
        by_mixture = ((held.prior - told) / right).sum()
        away = point - start
        loss = 0.5 * float(away @ (hold * away)) - float(np.log(right).sum())
        return loss, hold * away - unit * np.array([*by_weight, by_mixture])

    found = minimise(objective, start, bounds=bounds, ftol=1e-10, gtol=1e-6)
    *weights, mixture = (found * unit).tolist()
    return replace(usual, weights=dict(zip(names, weights, strict=True)), prior_mixture=mixture)
