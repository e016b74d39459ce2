"""Fit the causes' odds on a notebook's own history."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from search.causes.cross_validation import (
    FLATS,
    LEAST_SAY,
    MOST_SAY,
    PRICE,
    UNMET,
    History,
    PlainTerm,
    Progress,
    Trials,
    fit_linear,
    plan_fit,
)
from search.causes.fitting import LinearModel, fit_pool
from search.causes.opinions import Tuning
from search.scoring.features import thin_rows
from search.stats.arrays import FloatArray, IntArray

__all__ = ["UNMET", "CauseModel", "History", "PlainTerm", "Progress", "fit_model", "fit_tuning"]

FEWEST_TO_FIT = 50  # below that the defaults serve; chosen by us
_FLATTEST = 0.5  # what opinions from words count for with hardly a case; chosen by us
Asks = Callable[[IntArray], FloatArray]
_SAY_WITHOUT_LOGISTIC = (
    0.0,
    0.8,
    0.3,
    0.3,
    0.8,
    0.7,
    0.5,
    1.0,
)  # class means say nothing of shares; chosen by us


def fit_tuning(history: History, *, progress: Progress | None = None) -> Tuning:
    """Fit the tuning on a notebook's own history by log loss on cases held out.

    Below FEWEST_TO_FIT usable cases the defaults are returned, the flatter the fewer there are. What is
    returned is never worse than the defaults on the cases held out. Repeatable: folds come from a fixed seed.
    """
    cases = history.cases
    which = history.rows_to_learn()
    plan = plan_fit(len(which), history.rows.shape[1], len(np.unique(cases.cause[which])))
    default = Tuning() if plan.strengths else Tuning(logistic=False, say=_SAY_WITHOUT_LOGISTIC)
    if len(which) < FEWEST_TO_FIT:
        say = np.array(default.say)
        say[:4] *= _FLATTEST + (1 - _FLATTEST) * len(which) / FEWEST_TO_FIT  # the opinions from words
        return replace(default, say=tuple(say.tolist()))
    trials = Trials(history, which, plan, default, progress)
    means = trials.means()
    strength, logistic = trials.best_strength()
    (meaning_share, tau, quiet), votes = trials.best_vote()
    told = [logistic, means, trials.words, votes, *trials.sides]
    most = MOST_SAY * np.array([float(default.logistic), *[1.0] * (len(MOST_SAY) - 1)])
    tried = []
    for flat in FLATS:
        opinions = trials.pooled(told, flat)
        say = fit_pool(
            opinions, trials.truth, np.array(default.say), known=trials.known, most=most, least=LEAST_SAY
        )
        price = PRICE * (flat != default.flat) / max(len(trials.truth), 1)
        tried.append((trials.loss(opinions, say.tolist()) + price, flat, say))
    _, flat, say = min(tried, key=lambda one: one[:2])
    opinions = trials.pooled(told, flat)
    say, doubt = trials.best_doubt(opinions, say)
    tuned = replace(
        default,
        strength=strength,
        meaning_share=meaning_share,
        tau=tau,
        quiet=quiet,
        flat=flat,
        say=tuple(float(one) for one in say),
        doubt=doubt,
    )
    usual = trials.loss(
        trials.pooled(
            [trials.default_logs, means, trials.words, trials.default_votes, *trials.sides], default.flat
        ),
        default.say,
        doubt=default.doubt,
    )
    if trials.loss(opinions, tuned.say, doubt=doubt) > usual:
        tuned = default
    offset, slope, middle = trials.fit_new_cause(tuned.meaning_share)
    seen = int(np.count_nonzero(history.usable & (cases.cause >= 0)))
    return replace(tuned, new_offset=offset, new_slope=slope, new_middle=middle, fitted=True, cases=seen)


@dataclass(frozen=True, kw_only=True, eq=False)
class CauseModel:
    """Hold what was learned; logistic is None in very large notebooks."""

    tuning: Tuning
    logistic: LinearModel | None
    means: LinearModel

    def scores(self, row: FloatArray) -> FloatArray:
        """Return both opinions on each cause for a complaint's feature row, shape (2, n_causes)."""
        row = row.astype(np.float32)
        means = self.means.scores(row)
        logistic = np.zeros_like(means) if self.logistic is None else self.logistic.scores(row)
        return np.stack([logistic, means]).astype(np.float64)


def fit_model(
    history: History, *, tuning: Tuning | None = None, progress: Progress | None = None
) -> CauseModel:
    """Fit tuning (unless given), logistic opinion and class means on a notebook's history.

    Works in as few columns as there are rows; the answer is the same up to rounding.
    """
    which = history.rows_to_learn()
    turned: FloatArray | None = None
    if 0 < len(which) + len(history.names) < history.rows.shape[1]:
        few, turned = thin_rows(np.concatenate([history.rows[which], history.names]))
        rows = np.zeros((len(history.rows), few.shape[1]), few.dtype)
        rows[which] = few[: len(which)]
        # What of a complaint no row has in common plays no part in any score.
        history = replace(history, rows=rows, names=few[len(which) :], asks=_turning(history.asks, turned))
    if tuning is None:
        tuning = fit_tuning(history, progress=progress)
    logistic = fit_linear(history, which, strength=tuning.strength) if tuning.logistic else None
    means = fit_linear(history, which, strength=None)
    logistic = None if logistic is None else _as_kept(logistic, turned)
    return CauseModel(tuning=tuning, logistic=logistic, means=_as_kept(means, turned))


def _turning(asks: Asks | None, turned: FloatArray | None) -> Asks | None:
    if asks is None or turned is None:
        return asks
    return lambda which: asks(which) @ turned


def _as_kept(model: LinearModel, turned: FloatArray | None) -> LinearModel:
    """Return a model over all columns, rounded as on disk: answers stay the same when it is reopened."""
    weights = model.weights if turned is None else turned @ model.weights
    return LinearModel(weights=weights.astype(np.float16).astype(np.float32), offset=model.offset)
