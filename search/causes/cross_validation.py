"""Ask cases held out of a notebook's own history, and keep what every opinion says of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from search.causes.context import ComplaintContext, Corpus
from search.causes.linear import LinearModel
from search.causes.novelty import CauseFit
from search.causes.opinion import Opinion, TrainingRows
from search.causes.opinions.votes import cause_support
from search.causes.pool import HeldOut, Tuning, fit_pool
from search.causes.query_features import QueryFeatures
from search.scoring.features import thin_rows
from search.stats.arrays import BoolArray, FloatArray, IntArray
from search.stats.folds import stratified_folds

Progress = Callable[[int, int], None]

# All chosen by us.
UNSEEN_LOGIT = -30.0  # of a cause the linear model never met; the odds leave it out or votes decide
_NAME_EVIDENCE = 1.0
_HELD_OUT, _HELD_OUT_OF_LARGE, _LARGE = 600, 200, 30_000  # cases tried where five folds would take too long
_COSTLY_WORK = 2e11  # multiplications for one costly fit, a few seconds; beyond it others stand in
_FOLDS_WORK = 2.5e11  # the same for all fits of five folds and every strength
_STEPS = 60  # of one fit, to estimate its work
_FEW = 400  # cases up to which a strength cannot be told from the weights of the pool: one is tried
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
        keep = np.zeros(self.corpus.cases.size, np.bool_)
        keep[list(self.queries)] = True
        chosen: IntArray = np.flatnonzero(keep & self.usable & (self.corpus.cases.cause >= 0))
        return chosen

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
        few, turn = thin_rows(np.concatenate([self.features(which), self.names]))
        # What of a complaint no row has in common plays no part in any score.
        return replace(self, names=few[len(which) :], turn=turn)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Say how much is tried, decided by size alone. costly: whether there is time for costly models."""

    folds: int
    costly: bool
    choose_strength: bool


def plan_fit(cases: int, width: int, causes: int) -> Plan:
    """Decide how to learn from so many cases, columns and causes within about 30 s on two slow cores."""
    work = 4.0 * cases * min(width, cases) * causes * _STEPS
    if work > _COSTLY_WORK:
        return Plan(folds=1, costly=False, choose_strength=False)
    if cases <= _FEW:
        return Plan(folds=5, costly=True, choose_strength=False)
    many = work * 0.8 * 5 * 3 <= _FOLDS_WORK  # five folds of four fifths, three strengths
    return Plan(folds=5 if many else 1, costly=True, choose_strength=many)


def fit_linear(history: History, which: IntArray, opinion: Opinion, strength: float) -> LinearModel:
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
        rows = TrainingRows(
            rows=np.concatenate([history.features(which), history.names[met]]),
            classes=np.concatenate([classes, np.arange(len(met))]),
            evidence=np.concatenate([cases.evidence[which], np.full(len(met), _NAME_EVIDENCE)]),
            classes_met=len(met),
        )
        model = opinion.fit(rows, strength)
        weights[:, met], offset[met] = model.weights, model.offset
    return LinearModel(weights=weights, offset=offset)


class CrossValidation:
    """Ask cases of the others, and keep what each opinion says."""

    def __init__(
        self,
        history: History,
        which: IntArray,
        opinions: Sequence[Opinion],
        plan: Plan,
        progress: Progress | None,
    ) -> None:
        """Ask a part of `which` of the rest of the history; of one fold at a time where there is time."""
        self._history, self._opinions, self._progress = history, opinions, progress
        self._linear = [
            (each, strength)
            for each in opinions
            if each.fit is not None
            for strength in each.strengths[: None if plan.choose_strength else 1]
        ]
        self._done, splits = 0, list(_splits(history, which, plan))
        self._total = len(splits) * (len(self._linear) + 1)
        parts = [self._ask(learn, held) for learn, held in splits]
        self._found = {key: np.concatenate([part[key] for part in parts]) for key in parts[0]}

    def _tell(self) -> None:
        self._done += 1
        if self._progress is not None:
            self._progress(self._done, self._total)

    def _ask(self, learn: IntArray, held: IntArray) -> dict[object, NDArray[Any]]:
        """Ask the rows held out of those to learn from; return an array of each thing found, a row a case."""
        history, cases = self._history, self._history.corpus.cases
        mask = history.usable & (cases.cause >= 0)
        mask[held] = False
        found: dict[object, NDArray[Any]] = {
            "truth": cases.cause[held],
            "known": np.tile(cases.sums(mask) > 0, (len(held), 1)),
        }
        asks = history.features(held)
        for each, strength in self._linear:
            model = fit_linear(history, learn, each, strength)
            found[each.name, strength] = model.scores(asks).astype(np.float32)
            self._tell()
        direct = [each for each in self._opinions if each.fit is None]
        rows: list[dict[object, FloatArray | float]] = []
        for at, row in enumerate(held.tolist()):
            # Every other case tells words alone, as on the telephone: the pool has to serve for both.
            query = history.queries[row].words_alone() if at % 2 else history.queries[row]
            context = ComplaintContext(history.corpus, query, mask, {})
            rows.append(
                {
                    "habits": float(np.exp(context.habits[cases.cause[row]])),
                    "informativeness": context.informativeness,
                    "meaning": context.cause_meaning.astype(np.float32),
                    "support": cause_support(context).astype(np.float32),
                    **{(each.name, 0.0): each.log_scores(context).astype(np.float32) for each in direct},
                }
            )
        self._tell()
        return found | {key: np.array([row[key] for row in rows]) for key in rows[0]}

    def held_out(self, strengths: Mapping[str, float]) -> HeldOut:
        """Return the opinions on the cases held out, each linear one with a strength."""
        found = self._found
        return HeldOut(
            truth=found["truth"],
            known=found["known"],
            scores={each.name: found[each.name, strengths.get(each.name, 0.0)] for each in self._opinions},
            habits=found["habits"],
            informativeness=found["informativeness"],
        )

    def looks(self, tuning: Tuning) -> tuple[FloatArray, FloatArray]:
        """Return features of novelty: of cases with a known cause, and of all as if theirs were not known."""
        held = self.held_out(tuning.strengths)
        fit = CauseFit(held.affirmed(tuning), self._found["meaning"], self._found["support"], held.known)
        left = fit.without(held.truth)
        return fit.features()[held.met], left.features()[left.known.any(axis=1)]

    def best_strengths(self, usual: Tuning) -> dict[str, float]:
        """Return for each linear opinion the strength that loses least by itself, sharpened as fits."""
        best = {}
        for each in self._opinions:
            tried = [strength for one, strength in self._linear if one is each]
            if tried:
                best[each.name] = min(tried, key=lambda strength: self._loss_alone(each, strength, usual))
        return best

    def _loss_alone(self, opinion: Opinion, strength: float, usual: Tuning) -> float:
        held = self.held_out({**usual.strengths, opinion.name: strength}).of_known_causes()
        alone = replace(opinion, least=0.0, most=3.0)
        return fit_pool(held, replace(usual, weights={opinion.name: 1.0}), [alone])[1]


def _splits(history: History, which: IntArray, plan: Plan) -> Iterator[tuple[IntArray, IntArray]]:
    """Return rows to learn from and rows held out, for each fold; of a large notebook one part only."""
    if plan.folds == 1:
        order = np.random.default_rng(_SEED).permutation(which)
        most = _HELD_OUT if history.corpus.cases.size <= _LARGE else _HELD_OUT_OF_LARGE
        held = np.sort(order[: min(most, len(which) // 5)])
        yield np.setdiff1d(which, held), held
        return
    fold = stratified_folds(history.corpus.cases.cause[which], plan.folds, seed=_SEED)
    for at in range(plan.folds):
        yield which[fold != at], which[fold == at]
