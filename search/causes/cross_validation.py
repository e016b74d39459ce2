"""Try settings of the causes' odds on cases held out of a notebook's own history."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from typing import NamedTuple

import numpy as np

from search.causes.fitting import POOL_HOLD, LinearModel, fit_logistic, fit_means, fit_pool, log_softmax
from search.causes.opinions import FLATTENED, NEW_FLAT, OPINIONS, Setting, Tuning
from search.causes.past_cases import Asked, PastCases
from search.stats.arrays import BoolArray, FloatArray, IntArray
from search.stats.folds import stratified_folds

Progress = Callable[[int, int], None]


class PlainTerm(NamedTuple):
    """A term to search for and its weight: a past case asked as a complaint."""

    term: str
    weight: float


# All chosen by us.
_HELD_OUT, _HELD_OUT_OF_LARGE, _LARGE = 600, 200, 30_000  # cases tried where five folds would take too long
_LOGISTIC_WORK = 2e11  # multiplications for one logistic fit, a few seconds; beyond it class means serve
_FOLDS_WORK = 2.5e11  # the same for all fits of five folds and every strength
_STEPS = 60
_FEW = 400  # cases from which a strength cannot be told from exponents of the pool: one is tried
_TOLD_EVERY = 50  # cases between two reports of progress
_STRENGTHS = (4.0, 16.0, 48.0)
_TAUS = (0.05, 0.08, 0.13)
_QUIETS = (0.2, 0.35, 0.5)
_MEANING_SHARES = (0.3, 0.5, 0.7)
FLATS = (0.0, 0.25, 0.5)
_DOUBTS = (0.0, 0.01, 0.02, 0.04, 0.07, 0.1)
_DOUBT_SCALE = 0.03  # of doubt, as firm as 1 of an exponent
PRICE = 2.0  # nats over all cases held out that another setting of the votes has to win
_SHARPER = (0.9, 1.0, 1.1, 1.2, 1.35)
# A blink count does not depend on the words beside it, so it counts in full, as Bayes' rule has it, or more.
LEAST_SAY = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.6, 0.5, 1.0])
MOST_SAY = np.array([1.6, 4.0, 1.5, 1.2, 1.2, 1.5, 1.5, 1.5])
_MEANS_SCALE = 80.0  # brings class means to the scale of log probabilities
UNMET = -30.0  # score of a cause the linear model never met; cause_odds leaves it out or votes decide
_NAME_EVIDENCE = 1.0
_SEED = 20260318


@dataclass(frozen=True, kw_only=True, eq=False)
class History:
    """Hold what is fitted on: past cases, one feature row each, and each as a complaint against all others.

    rows: (size, width). usable: (size,). asked: gives the complaint of a row against the rows under a mask,
    with its scores left empty. names: (n_causes, width) the features of the causes' own names. asks:
    gives the features of rows as complaints, (n, width); None where those are the rows themselves.
    learnable: (size,) the rows whose features are filled in; None for all.
    """

    cases: PastCases
    rows: FloatArray
    usable: BoolArray
    asked: Callable[[int, BoolArray], Asked]
    names: FloatArray
    asks: Callable[[IntArray], FloatArray] | None = None
    learnable: BoolArray | None = None

    def ask_rows(self, which: IntArray) -> FloatArray:
        """Return the features of rows as complaints; shape (len(which), width)."""
        return self.rows[which] if self.asks is None else self.asks(which)

    def rows_to_learn(self) -> IntArray:
        """Return the usable rows that have a cause and features."""
        keep = self.usable & (self.cases.cause >= 0)
        chosen: IntArray = np.flatnonzero(keep if self.learnable is None else keep & self.learnable)
        return chosen


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Hold how much is tried in a fit, decided by size alone. strengths: none where class means must do.
    settled: change of a trial's objective, relative, below which it is taken as found.
    """

    folds: int
    strengths: tuple[float, ...]
    settled: float = 1e-7


def plan_fit(cases: int, width: int, causes: int) -> Plan:
    """Decide how to fit so many cases, columns and causes within about 30 s on two slow cores."""
    work = 4.0 * cases * min(width, cases) * causes * _STEPS
    if work > _LOGISTIC_WORK:
        return Plan(folds=1, strengths=())
    if cases <= _FEW:
        return Plan(folds=5, strengths=(Tuning().strength,), settled=1e-5)
    if work * 0.8 * 5 * len(_STRENGTHS) <= _FOLDS_WORK:
        return Plan(folds=5, strengths=_STRENGTHS)
    return Plan(folds=1, strengths=(16.0,))


def fit_linear(
    history: History, which: IntArray, *, strength: float | None, settled: float = 1e-7
) -> LinearModel:
    """Fit the logistic opinion on some rows, or the class means; its scores cover all causes.

    which: the rows to learn from, each with a cause. strength: of the logistic model, None for class means.
    The name of each cause counts as one more case of it: "keyboard" in a complaint points to a worn keyboard
    before anyone has complained of one.
    """
    cases = history.cases
    met, compact = np.unique(cases.cause[which], return_inverse=True)
    weights = np.zeros((history.rows.shape[1], cases.n_causes), np.float32)
    offset = np.full(cases.n_causes, UNMET)
    if len(met):
        rows = np.concatenate([history.rows[which], history.names[met]])
        compact = np.concatenate([compact, np.arange(len(met))])
        evidence = np.concatenate([cases.evidence[which], np.full(len(met), _NAME_EVIDENCE)])
        if strength is None:
            model = fit_means(rows, compact, evidence, count=len(met))
            model = LinearModel(weights=model.weights * _MEANS_SCALE, offset=model.offset * _MEANS_SCALE)
        else:
            model = fit_logistic(
                rows, compact, evidence, count=len(met), strength=strength, steps=_STEPS, settled=settled
            )
        weights[:, met] = model.weights
        offset[met] = model.offset
    return LinearModel(weights=weights, offset=offset)


Vote = tuple[float, float, float]  # meaning_share, tau, quiet


class Trials:
    """Try settings on held-out cases; opinions are kept for those whose cause the other cases know."""

    def __init__(
        self, history: History, which: IntArray, plan: Plan, default: Tuning, progress: Progress | None
    ) -> None:
        self.history, self.which, self.plan, self.default = history, which, plan, default
        self.progress, self.done = progress, 0
        cases = history.cases
        fold = stratified_folds(cases.cause[which], 5, seed=_SEED)
        self.splits = [(which[fold != at], which[fold == at]) for at in range(5)]
        if plan.folds == 1:
            order = np.random.default_rng(_SEED).permutation(which)
            most = _HELD_OUT if cases.size <= _LARGE else _HELD_OUT_OF_LARGE
            held = np.sort(order[: min(most, len(which) // 5)])
            self.splits = [(np.setdiff1d(which, held), held)]
        some = history.asked(int(which[0]), history.usable)
        self.shares = (default.meaning_share,) if some.meaning is None else _MEANING_SHARES
        asking = sum(-(-len(held) // _TOLD_EVERY) for _, held in self.splits)
        self.total = asking + len(self.splits) * (len(plan.strengths) + 1)
        self._asks: dict[bytes, FloatArray] = {}
        self._ask()

    def _tell(self) -> None:
        self.done += 1
        if self.progress is not None:
            self.progress(self.done, self.total)

    def _ask(self) -> None:
        """Ask each held-out case of the others, and keep the opinions that do not depend on the strength."""
        cases, default = self.history.cases, self.default
        votes: dict[Vote, list[FloatArray]] = {vote: [] for vote in product(self.shares, _TAUS, _QUIETS)}
        truth, sides, known, met, words, telling = [], [], [], [], [], []
        facts: dict[float, list[tuple[float, float, float]]] = {share: [] for share in self.shares}
        for _, held in self.splits:
            mask = self.history.usable & (cases.cause >= 0)
            mask[held] = False
            for asked, row in enumerate(held.tolist()):
                if asked % _TOLD_EVERY == 0:
                    self._tell()
                told = self.history.asked(row, mask)
                # Every other case tells words alone, as on the telephone: the pool has to serve for both.
                told = replace(told, family=-1, make=-1, device=-1, blinks=None) if asked % 2 else told
                setting = Setting(cases, told, default, mask)
                met.append(bool(setting.known[cases.cause[row]]))
                for share in self.shares:
                    each = setting.sharing(share)
                    facts[share].append((setting.good_turing, each.best_likeness(), told.telling**NEW_FLAT))
                    if not met[-1]:
                        continue
                    for tau in _TAUS:
                        for quiet, logs in zip(_QUIETS, each.vote_logs(tau, _QUIETS), strict=True):
                            votes[share, tau, quiet].append(logs.astype(np.float32))
                if met[-1]:
                    truth.append(int(cases.cause[row]))
                    known.append(setting.known)
                    telling.append(told.telling)
                    words.append(setting.asked.word_scores.astype(np.float32))
                    sides.append(np.stack(setting.side_opinions()).astype(np.float32))
        self.truth = np.array(truth, np.int64)
        self.known = np.array(known, np.bool_).reshape(len(truth), cases.n_causes)
        self.met = np.array(met, np.bool_)
        self.new_facts = {share: np.array(pairs).reshape(-1, 3) for share, pairs in facts.items()}
        self.telling = np.array(telling)
        self.words = self._stack(words)
        self.votes = {vote: self._stack(logs) for vote, logs in votes.items()}
        stacked = np.array(sides, np.float32).reshape(len(truth), len(OPINIONS) - 4, cases.n_causes)
        self.sides = [stacked[:, at] for at in range(len(OPINIONS) - 4)]

    def _stack(self, logs: Sequence[FloatArray]) -> FloatArray:
        return np.array(logs, np.float32).reshape(len(logs), self.history.cases.n_causes)

    def loss(self, logs: Sequence[FloatArray], say: Sequence[float], *, doubt: float = 0.0) -> float:
        """Return the log loss of a pool on the held-out cases with a known cause."""
        if not len(self.truth):
            return 0.0
        joined = sum(exponent * one for exponent, one in zip(say, logs, strict=True))
        each = log_softmax(np.where(self.known, joined, -np.inf))
        own = np.exp(each[np.arange(len(self.truth)), self.truth].astype(np.float64))
        return -float(np.log(np.maximum((1 - doubt) * own + doubt * self.habits, 1e-12)).mean())

    @cached_property
    def habits(self) -> FloatArray:
        """Return the chance of each held-out case's true cause before a word is read."""
        logs = log_softmax(np.where(self.known, sum(self.sides), -np.inf))
        chances: FloatArray = np.exp(logs[np.arange(len(self.truth)), self.truth].astype(np.float64))
        return chances

    def best_doubt(self, logs: Sequence[FloatArray], say: FloatArray) -> tuple[FloatArray, float]:
        """Return the exponents sharpened, and the doubt mixed in, that together lose least.

        Both are held near their usual values as firmly as in fit_pool: a few cases cannot sharpen them.
        """
        usual, cases = np.array(self.default.say), max(len(self.truth), 1)

        def held(sharper: float, doubt: float) -> float:
            away = float(np.square(say * sharper - usual).sum())
            return 0.5 * POOL_HOLD * (away + ((doubt - self.default.doubt) / _DOUBT_SCALE) ** 2) / cases

        choices = [
            (self.loss(logs, (say * sharper).tolist(), doubt=doubt) + held(sharper, doubt), doubt, sharper)
            for doubt in _DOUBTS
            for sharper in _SHARPER
        ]
        _, doubt, sharper = min(choices)
        return say * sharper, doubt

    def _linear_logs(self, strength: float | None) -> FloatArray:
        cause = self.history.cases.cause
        out: list[FloatArray] = []
        for learn, held in self.splits:
            model = fit_linear(self.history, learn, strength=strength, settled=self.plan.settled)
            met = np.isin(cause[held], cause[learn])
            out.append(model.scores(self._asks_of(held[met])).astype(np.float32))
            self._tell()
        return np.concatenate(out)

    def _asks_of(self, held: IntArray) -> FloatArray:
        key = held.tobytes()
        if key not in self._asks:
            self._asks[key] = self.history.ask_rows(held)
        return self._asks[key]

    def pooled(self, logs: Sequence[FloatArray], flat: float) -> list[FloatArray]:
        """Return opinions as they are pooled, the flatter the less was said; see Tuning.flat."""
        return [
            one * (self.telling ** (flat * power)).astype(np.float32)[:, None] if power else one
            for one, power in zip(logs, FLATTENED.tolist(), strict=True)
        ]

    def means(self) -> FloatArray:
        """Return the scores of the class means."""
        return self._linear_logs(None)

    def best_strength(self) -> tuple[float, FloatArray]:
        """Return the strength whose scores, sharpened or flattened as fits, lose least, and them."""
        nothing = np.zeros_like(self.known, np.float32)
        self.default_logs = nothing
        best: tuple[float, float, FloatArray] | None = None
        for strength in self.plan.strengths:
            logs = self._linear_logs(strength)
            if strength == self.default.strength:
                self.default_logs = logs
            say = fit_pool([logs], self.truth, np.array([1.0]), known=self.known, most=np.array([3.0]))
            lost = self.loss([logs], [float(say[0])])
            if best is None or lost < best[0]:
                best = lost, strength, logs
        return (self.default.strength, nothing) if best is None else best[1:]

    def best_vote(self) -> tuple[Vote, FloatArray]:
        """Return the settings of the votes that lose least."""
        usual = self.default.meaning_share, self.default.tau, self.default.quiet
        self.default_votes = self.votes[usual]
        cases = max(len(self.truth), 1)

        def price(vote: Vote) -> tuple[float, Vote]:
            # A few cases cannot tell settings apart: each that leaves the usual one has to earn it.
            left = sum(one != other for one, other in zip(vote, usual, strict=True))
            return self.loss([self.votes[vote]], [1.0]) + PRICE * left / cases, vote

        best = min(self.votes, key=price)
        return best, self.votes[best]

    def fit_new_cause(self, meaning_share: float) -> tuple[float, float, float]:
        """Return offset, slope (at most 0) and middle of the log odds of a new cause, beside Good-Turing's.

        Good-Turing's chance is that of the very folds the case was held out of, so that hiding a fifth of the
        cases does not make new causes look commoner than they are.
        """
        chance, likeness, sharp = self.new_facts[meaning_share].T
        new = ~self.met
        middle = float(likeness.mean())
        if new.sum() < 10 or self.met.sum() < 10:
            return 0.0, 0.0, middle
        base = np.log(chance / (1 - chance))
        away = (likeness - middle) * sharp
        offset, slope = 0.0, 0.0
        for _ in range(25):
            share = 1 / (1 + np.exp(-(base + offset + slope * away)))
            wrong, bend = share - new, share * (1 - share)
            offset -= (wrong.sum() + 4 * offset) / (bend.sum() + 4)
            slope -= ((wrong * away).sum() + 0.2 * slope) / ((bend * away * away).sum() + 0.2)
        return float(np.clip(offset, -1.0, 1.0)), float(np.clip(slope, -12.0, 0.0)), middle
