"""Ask cases held out of a notebook's own history, and keep what every opinion says of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count
from typing import Any

import numpy as np
from numpy.typing import NDArray

from search.causes.context import ComplaintContext, Corpus
from search.causes.linear import LinearModel
from search.causes.opinion import Opinion
from search.causes.opinions.votes import cause_support
from search.causes.pool import HeldOut
from search.causes.query_features import QueryFeatures
from search.stats.arrays import BoolArray, FloatArray, IntArray
from search.stats.folds import stratified_folds

Progress = Callable[[int, int], None]

# All chosen by us.
UNSEEN_LOGIT = -30.0  # of a cause the linear model never met; the odds leave it out or votes decide
_HELD_OUT, _HELD_OUT_OF_LARGE, _LARGE = 600, 200, 30_000  # cases tried where five folds would take too long
_COSTLY_WORK = 2e11  # multiplications for one costly fit, a few seconds; beyond it others stand in
_FOLDS_WORK = 8e10  # the same for all fits of five folds
_STEPS = 60  # of one fit, to estimate its work
_SEED = 20260318


@dataclass(frozen=True, kw_only=True, eq=False)
class History:
    """Hold what is learned from: past cases, and each of them as a complaint.

    queries: by row, of the rows to learn from. names: (n_causes, width) features of the causes' own names.
    usable: (size,). turn: (width, few) what brings features to fewer columns for learning; None for none.
    """

    corpus: Corpus
    queries: Mapping[int, QueryFeatures]
    names: FloatArray
    usable: BoolArray
    turn: FloatArray | None = None

    def rows_to_learn(self) -> IntArray:
        """Return the usable rows that have a cause and can be asked."""
        rows = np.array(sorted(self.queries), np.int64)
        return rows[self.usable[rows] & (self.corpus.cases.cause[rows] >= 0)]

    def features(self, which: IntArray) -> FloatArray:
        """Return the features of past cases for the linear models; (len(which), width or few)."""
        if not len(which):
            return np.zeros((0, self.names.shape[1]), np.float32)
        rows = np.stack([self.queries[row].row for row in which.tolist()])
        return rows if self.turn is None else rows @ self.turn

    def thinned(self) -> History:
        """Return the history in as few columns as there are rows and names; products stay the same."""
        which = self.rows_to_learn()
        if not 0 < len(which) + len(self.names) < self.names.shape[1]:
            return self
        turn, few = np.linalg.qr(np.concatenate([self.features(which), self.names]).T)
        # What of a complaint no row has in common plays no part in any score.
        return replace(self, names=few.T[len(which) :], turn=turn)


def plan_fit(cases: int, width: int, causes: int) -> tuple[int, bool]:
    """Decide how to learn from so many cases, columns and causes within about 30 s on two slow cores.

    Returns: the number of folds, and whether there is time for costly models.
    """
    work = 4.0 * cases * min(width, cases) * causes * _STEPS
    return 5 if work * 0.8 * 5 <= _FOLDS_WORK else 1, work <= _COSTLY_WORK


def fit_linear(history: History, which: IntArray, opinion: Opinion) -> LinearModel:
    """Fit the linear model of an opinion on some rows, each with a cause; its scores cover all causes.

    The name of each cause counts as one more case of it: "keyboard" in a complaint points to a worn keyboard
    before anyone has complained of one.
    """
    assert opinion.fit is not None
    cases = history.corpus.cases
    met, classes = np.unique(cases.cause[which], return_inverse=True)
    weights = np.zeros((history.names.shape[1], cases.n_causes), np.float32)
    offset = np.full(cases.n_causes, UNSEEN_LOGIT)
    if len(met):
        model = opinion.fit(
            np.concatenate([history.features(which), history.names[met]]),
            np.concatenate([classes, np.arange(len(met))]),
            np.concatenate([cases.evidence[which], np.ones(len(met))]),
            len(met),
        )
        weights[:, met], offset[met] = model.weights, model.offset
    return LinearModel(weights=weights, offset=offset)


def cross_validate(
    history: History, which: IntArray, opinions: Sequence[Opinion], folds: int, progress: Progress | None
) -> tuple[HeldOut, FloatArray, FloatArray]:
    """Ask each part of some rows of the rest of the history; of a large notebook one part alone.

    Returns: what each opinion says, and the meaning and the support of each cause, (n, n_causes) each.
    """
    splits = list(_splits(history, which, folds))
    total, done = len(splits) * (1 + sum(each.fit is not None for each in opinions)), count(1)

    def tell() -> None:
        if progress is not None:
            progress(next(done), total)

    parts = [_ask(history, opinions, learn, held, tell) for learn, held in splits]
    found = {key: np.concatenate([part[key] for part in parts]) for key in parts[0]}
    scores = {each.name: found[each.name] for each in opinions}
    held = HeldOut(truth=found["_truth"], known=found["_known"], habits=found["_habits"], scores=scores)
    return held, found["_meaning"], found["_support"]


def _ask(
    history: History, opinions: Sequence[Opinion], learn: IntArray, held: IntArray, tell: Callable[[], None]
) -> dict[str, NDArray[Any]]:
    """Ask rows held out of those to learn from; return an array of each thing found, a row a case."""
    cases = history.corpus.cases
    mask = history.usable & (cases.cause >= 0)
    mask[held] = False
    found: dict[str, NDArray[Any]] = {
        "_truth": cases.cause[held],
        "_known": np.tile(cases.sums(mask) > 0, (len(held), 1)),
    }
    asks = history.features(held)
    for each in opinions:
        if each.fit is not None:
            found[each.name] = fit_linear(history, learn, each).scores(asks).astype(np.float32)
            tell()
    rows: list[dict[str, FloatArray]] = []
    for at, row in enumerate(held.tolist()):
        # Every other case tells words alone, as on the telephone: the pool has to serve for both.
        query = history.queries[row].words_alone() if at % 2 else history.queries[row]
        context = ComplaintContext(history.corpus, query, mask, {})
        said = {each.name: each.log_scores(context) for each in opinions if each.fit is None}
        said |= {"_meaning": context.cause_meaning, "_support": cause_support(context)}
        said["_habits"] = np.exp(context.habits[cases.cause[row]])
        rows.append({name: values.astype(np.float32) for name, values in said.items()})
    tell()
    return found | {key: np.array([row[key] for row in rows]) for key in rows[0]}


def _splits(history: History, which: IntArray, folds: int) -> Iterator[tuple[IntArray, IntArray]]:
    """Return rows to learn from and rows held out, for each fold; of a large notebook one part only."""
    if folds == 1:
        order = np.random.default_rng(_SEED).permutation(which)
        most = _HELD_OUT if history.corpus.cases.size <= _LARGE else _HELD_OUT_OF_LARGE
        held = np.sort(order[: min(most, len(which) // 5)])
        yield np.setdiff1d(which, held), held
        return
    fold = stratified_folds(history.corpus.cases.cause[which], folds, seed=_SEED)
    for at in range(folds):
        yield which[fold != at], which[fold == at]
