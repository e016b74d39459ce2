"""Learn the causes' odds from a notebook's own history."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from search.causes.context import ComplaintContext, Corpus
from search.causes.cross_validation import History, Progress, cross_validate, fit_linear, plan_fit
from search.causes.linear import LinearModel
from search.causes.novelty import CauseFit, fit_novelty
from search.causes.odds import CauseOdds, cause_odds
from search.causes.opinion import Opinion
from search.causes.opinions import OPINIONS
from search.causes.pool import Tuning, among_known, fit_pool
from search.causes.query_features import QueryFeatures
from search.stats.arrays import BoolArray, FloatArray

FEWEST_TO_FIT = 50  # below that the defaults serve; chosen by us
_QUICK_ROWS = 1_500  # up to here learning again takes a second, so every new note is learned at once
_FLATTEST = 0.3  # what opinions from words count for with hardly a case; chosen by us


def fit_tuning(history: History, opinions: Sequence[Opinion], progress: Progress) -> Tuning:
    """Fit the tuning on a notebook's own history by log loss on cases held out.

    Below FEWEST_TO_FIT usable cases the defaults are returned, opinions from words the humbler the fewer
    there are. Repeatable: folds come from a fixed seed.
    """
    cases, which = history.corpus.cases, history.rows_to_learn()
    if len(which) < FEWEST_TO_FIT:
        share = _FLATTEST + (1 - _FLATTEST) * len(which) / FEWEST_TO_FIT
        return Tuning.usual(opinions, from_words=share)
    folds, costly = plan_fit(len(which), history.names.shape[1], len(np.unique(cases.cause[which])))
    usual = Tuning.usual(opinions, costly=costly)
    voiced = [each for each in opinions if each.name in usual.weights]
    held = cross_validate(history, which, voiced, folds, progress)
    tuned = fit_pool(held, usual, voiced)
    affirming = [0.0 if each.denies else tuned.weights[each.name] for each in voiced]
    likely = among_known(held.known, np.einsum("o,noc->nc", affirming, held.scores))
    fit = CauseFit(likely, held.meaning, held.support, held.known)
    left = fit.without(held.truth)  # as if theirs was not known
    met = held.known[np.arange(len(held.truth)), held.truth]
    novelty = fit_novelty(fit.features()[met], left.features()[left.known.any(axis=1)])
    seen = int(np.count_nonzero(history.usable & (cases.cause >= 0)))
    return replace(tuned, novelty=novelty, cases=seen)


class LearnedFrom(NamedTuple):
    """What a model is learned from: a state of the index, its causes' keys and cases, width of features."""

    generation: str
    cause_keys: Sequence[str]
    cases: int
    width: int


_NOTHING = LearnedFrom("", (), 0, 0)


@dataclass(frozen=True, kw_only=True, eq=False)
class CauseModel:
    """Hold what was learned: the tuning, and the linear models by the names of their opinions."""

    tuning: Tuning
    linear: Mapping[str, LinearModel]
    source: LearnedFrom = _NOTHING

    @classmethod
    def unlearned(cls) -> CauseModel:
        """Return the defaults: the opinions that need no learning, with their usual weights."""
        return cls(tuning=Tuning.usual([each for each in OPINIONS if each.fit is None]), linear={})

    def scores(self, row: FloatArray) -> dict[str, FloatArray]:
        """Return the scores of each linear model for a complaint's feature row, (n_causes,) each."""
        row = row.astype(np.float32)
        return {name: model.scores(row).astype(np.float64) for name, model in self.linear.items()}

    def odds(self, corpus: Corpus, query: QueryFeatures, usable: BoolArray) -> CauseOdds:
        """Return the odds for a complaint. usable: (size,) past cases with a cause to answer from."""
        return cause_odds(ComplaintContext(corpus, query, usable, self.scores(query.row)), self.tuning)

    def tuning_for(self, now: LearnedFrom) -> Tuning | None:
        """Return the tuning if the notebook has hardly grown since, so that it still holds."""
        fitted_on, same = self.tuning.cases, self.source.width == now.width
        grown = abs(now.cases - fitted_on)
        return self.tuning if same and fitted_on and grown <= max(20, fitted_on // 5) else None

    def for_state(self, now: LearnedFrom) -> CauseModel | None:
        """Return the model for a state of the notebook; None when it had better be learned again.

        In a large notebook the model of another state serves, for the causes it knows.
        """
        if self.source == now:
            return self
        return None if now.cases <= _QUICK_ROWS or self.tuning_for(now) is None else self.carried_to(now)

    def carried_to(self, now: LearnedFrom) -> CauseModel | None:
        """Return the model for the causes of another state; None when its features have another width."""
        if self.source.width != now.width:
            return None
        place = {key: at for at, key in enumerate(self.source.cause_keys)}
        at = np.array([place.get(key, -1) for key in now.cause_keys], np.int64)
        linear = {name: each.among(at) for name, each in self.linear.items()}
        return replace(self, linear=linear, source=now)


def fit_model(
    history: History,
    *,
    opinions: Sequence[Opinion] = OPINIONS,
    tuning: Tuning | None = None,
    progress: Progress = lambda done, total: None,
) -> CauseModel:
    """Fit tuning (unless given) and linear models on a notebook's history.

    Works in as few columns as there are rows; the answer is the same up to rounding.
    """
    history = history.thinned()
    which = history.rows_to_learn()
    if tuning is None:
        tuning = fit_tuning(history, opinions, progress)
    linear = {}
    for each in tuning.opinions():
        if each.fit is not None:
            model = fit_linear(history, which, each)
            weights = model.weights if history.turn is None else history.turn @ model.weights
            # Rounded as on disk: answers stay the same when it is reopened.
            linear[each.name] = replace(model, weights=weights.astype(np.float16).astype(np.float32))
    return CauseModel(tuning=tuning, linear=linear)
