"""The chance that the cause is not in the notebook yet, by Good-Turing and by how new the complaint looks."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple, Self

import numpy as np

from search.causes.context import ComplaintContext
from search.causes.linear import minimise
from search.causes.priors import new_share
from search.causes.query_features import NEVER_MET
from search.stats.arrays import BoolArray, FloatArray, IntArray

# When the cause is new, the known ones are hard to tell apart (uncertainty), no cause's cases are like the
# complaint in meaning, and none is supported by votes. _USUAL: change of the log odds per unit. _MIDDLE:
# value that changes nothing. Both were fitted on two labelled lists and the demo, then rounded. _BOUNDS keep
# each slope's sign. _HOLD: how firmly slopes are held near the usual ones, in cases.
FEATURES = ("uncertainty", "meaning", "support")
_USUAL: Mapping[str, float] = {"uncertainty": 2.5, "meaning": -2.0, "support": -3.0}
_MIDDLE: Mapping[str, float] = {"uncertainty": 0.4, "meaning": 0.3, "support": 0.4}
_BOUNDS = ((0.0, 12.0), (-12.0, 0.0), (-12.0, 0.0))
_HOLD = 2.0
_MOST = 4.0  # most log odds that these features can move; chosen by us
_UNMET_DEVICE = 2.5  # log odds for a device without a case; not more, as it may be misread; chosen by us
_FEWEST = 20  # complaints of each kind, below which nothing is fitted; chosen by us
_KAPPA = 64.0  # cases that the wider neighbourhood is worth: few cases say little of new causes; chosen by us
# Log odds for a blink count that such sets never showed. In the demo's history 10 of 13 such repairs had a
# new cause, and 15 of 62 others: a likelihood ratio of about 6.
_STRANGE_BLINKS = 1.8
# Weight of the log odds by which signs speak for a fault that is no cause here; chosen by us on the demo.
_KNOWN_SIGNS = 0.8


class CauseFit(NamedTuple):
    """How well n complaints fit each cause: (n, n_causes) each.

    chances: probabilities if the cause is a known one. meaning: cosine with the mean of its cases, 0 to 1.
    support: similarity that a single case would need for as many votes, 0 to about 1. known: causes that
    count.
    """

    chances: FloatArray
    meaning: FloatArray
    support: FloatArray
    known: BoolArray

    def features(self) -> FloatArray:
        """Return the value of each of FEATURES; (n, 3)."""
        chances = np.where(self.known, self.chances, 0.0)
        chances = chances / np.maximum(chances.sum(axis=1, keepdims=True), 1e-300)
        entropy = -(chances * np.log(np.maximum(chances, 1e-300))).sum(axis=1)
        most = np.log(np.maximum(self.known.sum(axis=1), 2))
        best = [np.where(self.known, each, 0.0).max(axis=1) for each in (self.meaning, self.support)]
        return np.column_stack([entropy / most, *best])

    def without(self, causes: IntArray) -> Self:
        """Return the fit as if one cause of each complaint had never been met. causes: (n,) codes."""
        known = self.known.copy()
        known[np.arange(len(known)), causes] = False
        return self._replace(known=known)


@dataclass(frozen=True, kw_only=True)
class NoveltyModel:
    """Hold what is added to Good-Turing's log odds of a new cause: offset + slopes * (features - middle)."""

    offset: float = 0.0
    slopes: Mapping[str, float] = field(default_factory=lambda: dict(_USUAL))
    middle: Mapping[str, float] = field(default_factory=lambda: dict(_MIDDLE))

    def chance(self, context: ComplaintContext, chances: FloatArray) -> float:
        """Return the chance that the cause is not in the notebook yet; within (0, 1).

        chances: (n_causes,) if the cause is a known one, from what the complaint affirms alone.
        """
        base = good_turing(context)
        odds = np.log(base / (1 - base))
        if context.query.device == NEVER_MET:
            odds += _UNMET_DEVICE
        odds += _STRANGE_BLINKS * strangeness_of_blinks(context)
        if context.query.terms:  # without words no case is alike, but that makes nothing new
            near = chances[None, :], context.cause_meaning[None, :], context.cause_support[None, :]
            (looks,) = CauseFit(*near, context.known[None, :]).features().tolist()
            change = self.offset
            for name, value in zip(FEATURES, looks, strict=True):
                change += self.slopes[name] * (value - self.middle[name])
            change = float(np.clip(change, -_MOST, _MOST))
            if context.fault_odds is not None:
                change -= _KNOWN_SIGNS * context.fault_odds.familiarity(context.known)
            odds += context.telling * change  # few words say little of this, too
        return float(1 / (1 + np.exp(-odds)))


def good_turing(context: ComplaintContext) -> float:
    """Return the chance of a new cause in sets like this one, whatever the complaint says."""
    usable, alone = context.usable, context.among.alone
    chance = new_share(int(np.count_nonzero(alone)), int(np.count_nonzero(usable)))
    for near in context.neighbourhoods:
        seen_once, seen = int(np.count_nonzero(alone & near)), int(np.count_nonzero(usable & near))
        chance = new_share(seen_once, seen, parent=chance, kappa=_KAPPA)
    return chance


def strangeness_of_blinks(context: ComplaintContext) -> float:
    """Return how unlike all blinks noted in such sets the said ones are, 0 to 1; 0 if none are known."""
    cases, query = context.cases, context.query
    if query.blinks is None:
        return 0.0
    noted = context.usable & (cases.blink_code >= 0)
    if query.family >= 0:
        noted = noted & (cases.family == query.family)
    elif context.device >= 0:
        noted = noted & (cases.device == context.device)
    return 1 - float(context.blink_fit[noted].max()) if noted.any() else 0.0


def fit_novelty(known: FloatArray, new: FloatArray) -> NoveltyModel:
    """Return the model that best tells complaints of known causes from those of new ones.

    known, new: (n, 3) features. Both kinds have the same total weight, so that the fit is a likelihood ratio,
    to be added to the log odds before anything is read. Slopes are held near the usual ones.
    Source: logistic regression as a density ratio, Qin 1998 (from memory).
    """
    if min(len(known), len(new)) < _FEWEST:
        return NoveltyModel()
    looks = np.concatenate([known, new])
    middle, total = looks.mean(axis=0), len(looks)
    is_new = np.repeat([0.0, 1.0], [len(known), len(new)])
    weight = np.repeat([total / 2 / len(known), total / 2 / len(new)], [len(known), len(new)])
    usual = np.array(list(_USUAL.values()))

    def objective(point: FloatArray) -> tuple[float, FloatArray]:
        odds = point[0] + (looks - middle) @ point[1:]
        wrong = weight * (1 / (1 + np.exp(-odds)) - is_new)
        away = point[1:] - usual
        value = float(weight @ (np.logaddexp(0, odds) - is_new * odds)) + 0.5 * _HOLD * float(away @ away)
        return value, np.array([wrong.sum(), *(wrong @ (looks - middle) + _HOLD * away)])

    start = np.array([0.0, *usual])
    found = minimise(objective, start, bounds=[(None, None), *_BOUNDS])
    return NoveltyModel(
        offset=float(found[0]),
        slopes=dict(zip(FEATURES, found[1:].tolist(), strict=True)),
        middle=dict(zip(FEATURES, middle.tolist(), strict=True)),
    )
