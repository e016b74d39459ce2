"""Learn the odds from a notebook's own history: cases held out are asked of the others."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count
from typing import Self

import numpy as np

from search.causes.context import ComplaintContext, Corpus
from search.causes.linear import STEPS, LinearModel
from search.causes.model_store import CauseModel
from search.causes.opinion import Opinion
from search.causes.opinions import OPINIONS
from search.causes.pool import HeldOut, Tuning, fit_pool
from search.causes.query_features import QueryFeatures
from search.stats.arrays import BoolArray, FloatArray, IntArray

Progress = Callable[[int, int], None]

# All chosen by us.
_HELD_OUT, _HELD_OUT_OF_LARGE, _LARGE = 600, 200, 30_000  # cases held out, where five folds take too long
_COSTLY_WORK = 2e11  # multiplications of one costly fit, a few seconds; beyond that stand-ins serve
_FOLDS_WORK = 8e10  # the same for all fits of five folds
_SEED = 20260318
FEWEST_TO_FIT = 50  # cases; with fewer the defaults serve
_FLATTEST = 0.3  # factor on opinions from words with hardly a case


@dataclass(frozen=True, kw_only=True, eq=False)
class History:
    """Hold what is learned from: past cases, and each of them as a complaint.

    queries: by row to learn from. names: (n_causes, width) features of the causes' names. usable: (size,).
    projection: (width, few), to fewer columns; None for none.
    """

    corpus: Corpus
    queries: Mapping[int, QueryFeatures]
    names: FloatArray
    usable: BoolArray
    projection: FloatArray | None = None

    def rows_to_learn(self) -> IntArray:
        """Return the usable rows that have a cause and can be asked."""
        rows = np.array(sorted(self.queries), np.int64)
        return rows[self.usable[rows] & (self.corpus.cases.cause[rows] >= 0)]

    def features(self, which: IntArray) -> FloatArray:
        """Return the features of past cases for the linear models; (len(which), width or few)."""
        width = self.names.shape[1] if self.projection is None else len(self.projection)
        rows = np.array([self.queries[row].row for row in which.tolist()], np.float32).reshape(-1, width)
        return rows if self.projection is None else rows @ self.projection

    def thinned(self) -> Self:
        """Return the history in no more columns than it has rows and names; inner products stay the same."""
        which = self.rows_to_learn()
        if not 0 < len(which) + len(self.names) < self.names.shape[1]:
            return self
        projection, few = np.linalg.qr(np.concatenate([self.features(which), self.names]).T)
        # What a complaint shares with no row plays no part in any score.
        return replace(self, names=few.T[len(which) :], projection=projection)


def plan_fit(cases: int, width: int, causes: int) -> tuple[int, bool]:
    """Decide how to learn from so many cases, columns and causes in about 30 s on two slow cores.

    Returns: the number of folds, and whether there is time for costly models.
    """
    work = 4.0 * cases * min(width, cases) * causes * STEPS
    return 5 if work * 0.8 * 5 <= _FOLDS_WORK else 1, work <= _COSTLY_WORK


def fit_linear(history: History, which: IntArray, opinion: Opinion) -> LinearModel:
    """Fit the linear model of an opinion to some rows with a cause. It scores all causes of the notebook.

    The name of each cause counts as one more case of it, so that "keyboard" in a complaint points to a worn
    keyboard before anyone has complained of one.
    """
    assert opinion.fit is not None
    cases = history.corpus.cases
    met, classes = np.unique(cases.cause[which], return_inverse=True)
    model = LinearModel(weights=np.zeros((history.names.shape[1], 0), np.float32), offset=np.zeros(0))
    if len(met):
        model = opinion.fit(
            np.concatenate([history.features(which), history.names[met]]),
            np.concatenate([classes, np.arange(len(met))]),
            np.concatenate([cases.evidence[which], np.ones(len(met))]),
            len(met),
        )
    at = np.full(cases.n_causes, -1)
    at[met] = np.arange(len(met))
    return model.with_classes(at)


def cross_validate(
    history: History, which: IntArray, opinions: Sequence[Opinion], folds: int, progress: Progress
) -> HeldOut:
    """Ask each part of the rows of the other parts; in a large notebook only one part."""
    held = _held_out(history, which, folds)
    total, done = len(held) * (1 + sum(each.fit is not None for each in opinions)), count(1)
    parts = [_ask(history, opinions, which, part, lambda: progress(next(done), total)) for part in held]
    return HeldOut(*map(np.concatenate, zip(*parts, strict=True)))


def _ask(
    history: History, opinions: Sequence[Opinion], which: IntArray, held: IntArray, tell: Callable[[], None]
) -> HeldOut:
    """Learn from the other rows, and ask those held out. tell: called after each model, and at the end."""
    cases, asks = history.corpus.cases, history.features(held)
    mask = history.usable & (cases.cause >= 0)
    mask[held] = False
    linear = {}
    for each in opinions:
        if each.fit is not None:
            linear[each.name] = fit_linear(history, np.setdiff1d(which, held), each).scores(asks)
            tell()
    found = []
    for at, row in enumerate(held.tolist()):
        # Half the cases are asked by words alone, as on the telephone: the weights must serve for both.
        query = history.queries[row].words_alone() if at % 2 else history.queries[row]
        learned = {name: scores[at] for name, scores in linear.items()}
        context = ComplaintContext(history.corpus, query, mask, learned)
        scores = np.array([each.scores(context) for each in opinions], np.float32)
        prior = np.exp(context.log_prior[cases.cause[row]])
        found.append((context.known, prior, scores))
    tell()
    known, *figures = map(np.array, zip(*found, strict=True))
    return HeldOut(cases.cause[held], known, *(each.astype(np.float32) for each in figures))


def _held_out(history: History, which: IntArray, folds: int) -> list[IntArray]:
    """Return the rows held out in each fold; in a large notebook of one fold only."""
    if folds == 1:
        most = _HELD_OUT if history.corpus.cases.size <= _LARGE else _HELD_OUT_OF_LARGE
        order = np.random.default_rng(_SEED).permutation(which)
        return [np.sort(order[: min(most, len(which) // 5)])]
    fold = stratified_folds(history.corpus.cases.cause[which], folds, seed=_SEED)
    return [which[fold == at] for at in range(folds)]


def fit_tuning(history: History, opinions: Sequence[Opinion], progress: Progress) -> Tuning:
    """Fit the tuning to a notebook's own history, by log loss on cases held out.

    Below FEWEST_TO_FIT usable cases the defaults are returned; then the fewer cases, the less opinions from
    words count. The folds come from a fixed seed, so the result is repeatable.
    """
    cases, which = history.corpus.cases, history.rows_to_learn()
    if len(which) < FEWEST_TO_FIT:
        share = _FLATTEST + (1 - _FLATTEST) * len(which) / FEWEST_TO_FIT
        return Tuning.usual(opinions, from_words=share)
    folds, costly = plan_fit(len(which), history.names.shape[1], len(np.unique(cases.cause[which])))
    usual = Tuning.usual(opinions, costly=costly)
    voiced = [each for each in opinions if each.name in usual.weights]
    held = cross_validate(history, which, voiced, folds, progress)
    seen = int(np.count_nonzero(history.usable & (cases.cause >= 0)))
    return replace(fit_pool(held, usual, voiced), cases=seen)


def fit_model(
    history: History,
    *,
    opinions: Sequence[Opinion] = OPINIONS,
    tuning: Tuning | None = None,
    progress: Progress = lambda done, total: None,
) -> CauseModel:
    """Fit the tuning, unless it is given, and the linear models to a notebook's history.

    Works in no more columns than rows; the result is the same up to rounding.
    """
    history = history.thinned()
    which = history.rows_to_learn()
    if tuning is None:
        tuning = fit_tuning(history, opinions, progress)
    linear = {}
    for each in tuning.opinions():
        if each.fit is not None:
            model = fit_linear(history, which, each)
            projection = history.projection
            weights = model.weights if projection is None else projection @ model.weights
            # Rounded as on disk, so that answers stay the same when it is read again.
            linear[each.name] = replace(model, weights=weights.astype(np.float16).astype(np.float32))
    return CauseModel(tuning=tuning, linear=linear)


def stratified_folds(classes: IntArray, folds: int, *, seed: int = 0) -> IntArray:
    """Return the fold of each row, (n,), from 0: shuffled rows, sorted by class, are dealt out in turn."""
    order = np.random.default_rng(seed).permutation(len(classes))
    order = order[np.argsort(classes[order], kind="stable")]
    fold = np.empty(len(classes), np.int64)
    fold[order] = np.arange(len(classes)) % folds
    return fold
