"""Fit the causes' odds on a notebook's own history."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from search.arrays import FloatArray
from search.causes import Tuning
from search.features import thin_rows
from search.fitting import LinearModel, fit_pool
from search.trials import MOST_SAY, UNMET, History, PlainTerm, Progress, Trials, fit_linear, plan_fit

__all__ = ["UNMET", "CauseModel", "History", "PlainTerm", "Progress", "fit_model", "fit_tuning"]

FEWEST_TO_FIT = 50  # below that the defaults serve; chosen by us
_MEANS_SAY = (0.8, 0.25, 0.8, 0.7, 0.7)  # class means say nothing of shares; chosen by us


def fit_tuning(history: History, *, progress: Progress | None = None) -> Tuning:
    """Fit the tuning on a notebook's own history by log loss on cases held out.

    Below FEWEST_TO_FIT usable cases the defaults are returned. What is returned is never worse than the
    defaults on the cases held out. Repeatable: folds come from a fixed seed.
    """
    cases = history.cases
    which = history.rows_to_learn()
    plan = plan_fit(len(which), history.rows.shape[1], len(np.unique(cases.cause[which])))
    default = Tuning(method=plan.method, say=_MEANS_SAY if plan.method == "means" else Tuning().say)
    if len(which) < FEWEST_TO_FIT:
        return default
    trials = Trials(history, which, plan, default, progress)
    strength, logs = trials.best_strength()
    (meaning_share, tau, quiet), votes = trials.best_vote()
    truth, sides = trials.truth, trials.sides
    start = np.array(default.say)
    say = fit_pool([logs, votes, *sides], truth, start, most=MOST_SAY)
    tuned = replace(
        default,
        strength=strength,
        meaning_share=meaning_share,
        tau=tau,
        quiet=quiet,
        say=tuple(float(one) for one in say),
    )
    usual = trials.loss([trials.default_logs, trials.default_votes, *sides], default.say)
    if trials.loss([logs, votes, *sides], tuned.say) > usual:
        tuned = default
    offset, slope, middle = trials.fit_new_cause(tuned.meaning_share)
    return replace(
        tuned, new_offset=offset, new_slope=slope, new_middle=middle, fitted=True, cases=len(which)
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class CauseModel:
    """Hold what was learned: the tuning and the linear opinion (over the causes of `cause_keys`)."""

    tuning: Tuning
    linear: LinearModel

    def scores(self, row: FloatArray) -> FloatArray:
        """Return the linear opinion on each cause for a complaint's feature row, shape (n_causes,)."""
        return self.linear.scores(row.astype(np.float32)).astype(np.float64)


def fit_model(
    history: History, *, tuning: Tuning | None = None, progress: Progress | None = None, thin: bool = True
) -> CauseModel:
    """Fit tuning (unless given) and linear opinion on a notebook's history.

    thin: work in as few columns as there are rows; the answer is the same up to rounding.
    """
    which = history.rows_to_learn()
    turned: FloatArray | None = None
    if thin and 0 < len(which) + len(history.names) < history.rows.shape[1]:
        few, turned = thin_rows(np.concatenate([history.rows[which], history.names]))
        rows = np.zeros((len(history.rows), few.shape[1]), few.dtype)
        rows[which] = few[: len(which)]
        history = replace(history, rows=rows, names=few[len(which) :])
    if tuning is None:
        tuning = fit_tuning(history, progress=progress)
    linear = fit_linear(history, which, tuning)
    if turned is not None:
        linear = LinearModel(weights=turned @ linear.weights, offset=linear.offset)
    return CauseModel(tuning=tuning, linear=linear)
