"""Measure how well answers are: on past cases in order of time, on a labelled list, or with causes hidden."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from kb.errors import BenchloreError
from search.causes.model_store import CauseModel
from search.causes.notebook_causes import NotebookCauses
from search.causes.odds import CauseOdds
from search.causes.opinion import Opinion
from search.causes.opinions import OPINIONS
from search.causes.training import History, Progress, fit_model, stratified_folds
from search.evaluation import metrics
from search.evaluation.metrics import per_cent
from search.records import JsonRecord
from search.stats.arrays import BoolArray, FloatArray

_LAST = 60  # cases answered if no number is given
_LEARN_EACH_TIME = 300  # with at most so many cases, all is learned again for each answer; chosen by us
_TIMES_LEARNED = 12  # with more, all is learned again so many times in all
LEAST_CHARGED = 1e-12  # log loss takes no probability for smaller than this
_PARTS, _SEED = 5, 20261128  # parts of the causes, each hidden once


@dataclass(frozen=True, kw_only=True)
class Evaluation(JsonRecord):
    """What was measured; nan where nothing was answered.

    n: cases answered. top1, top3: share right first, among three. mrr: mean of 1 / rank. log_loss: nats.
    brier: mean of the sum over causes of (p - outcome) squared, 0 to 2. With folds these are means of the
    folds. A case with a new cause is a miss (rank infinite); its log loss is that of "not in this notebook".
    ece, reliability: of the first cause's probability, over all cases, in ten equal bins. new_cause_share: of
    cases whose cause was new. folds: 1 for past cases in order of time.
    Source: Voorhees 1999, TREC-8; Brier 1950 (both from memory).
    """

    n: int = 0
    top1: float = math.nan
    top3: float = math.nan
    mrr: float = math.nan
    log_loss: float = math.nan
    brier: float = math.nan
    ece: float = math.nan
    new_cause_share: float = math.nan
    reliability: tuple[metrics.ReliabilityBin, ...] = ()
    folds: int = 1
    meaning: bool = True

    def as_text(self) -> str:
        """Return a table to read."""
        if not self.n:
            return "There is no case to measure on yet."
        first, new = round(self.top1 * self.n), per_cent(self.new_cause_share)
        asked = f"{self.folds} folds" if self.folds > 1 else "each from earlier cases only"
        table = metrics.measures_table(
            ("cases", f"{self.n}", asked),
            ("right first", per_cent(self.top1), f"the real cause came first in {first} of {self.n}"),
            ("among three", per_cent(self.top3), "the real cause was among the first three"),
            ("new causes", new, "no earlier case had the cause: counted as missed above"),
            ("mean 1/rank", f"{self.mrr:.2f}", "1 is best"),
            ("log loss", f"{self.log_loss:.2f}", "nats; 0 is best"),
            ("Brier score", f"{self.brier:.2f}", "0 is best, 2 worst"),
            ("calibration", per_cent(self.ece), "mean gap between what is claimed and what comes true"),
            ("meaning", "yes" if self.meaning else "no", "" if self.meaning else "from words alone"),
        )
        return f"{table}\n\n{metrics.reliability_lines(self.reliability)}"


class Answered(NamedTuple):
    """One case: the odds it was given, its true cause (-1: one that no usable case had), and its fold."""

    odds: CauseOdds
    truth: int
    fold: int


def answer_past_case(
    model: CauseModel, history: History, row: int, usable: BoolArray, fold: int = 0
) -> Answered:
    """Answer a past case from some usable cases, (size,)."""
    cause = int(history.corpus.cases.cause[row])
    met = (usable & (history.corpus.cases.cause == cause)).any()
    odds = model.odds(history.corpus, history.queries[row], usable)
    return Answered(odds=odds, truth=cause if met else -1, fold=fold)


def measure(answers: Sequence[Answered], *, meaning: bool) -> Evaluation:
    """Return the measures of a list of answers."""
    if not answers:
        return Evaluation(meaning=meaning)
    truth, fold = (np.array([getattr(each, name) for each in answers]) for name in ("truth", "fold"))
    probabilities = np.stack([answer.odds.probability for answer in answers])
    new = np.array([answer.odds.not_in_notebook for answer in answers])
    everything = np.column_stack([probabilities, new])
    outcome = np.where(truth >= 0, truth, probabilities.shape[1])
    came_true = outcome[:, None] == np.arange(everything.shape[1])
    ranks = metrics.ranks_of(probabilities, truth)
    of_row = {
        "top1": ranks <= 1,
        "top3": ranks <= 3,
        "mrr": 1 / ranks,
        "log_loss": -np.log(np.maximum(everything[came_true], LEAST_CHARGED)),
        "brier": np.square(everything - came_true).sum(axis=1),
    }
    table = metrics.reliability(probabilities.max(axis=1), probabilities.argmax(axis=1) == truth)
    folds = [fold == each for each in np.unique(fold)]
    return Evaluation(
        **{name: float(np.mean([row[at].mean() for at in folds])) for name, row in of_row.items()},
        n=len(answers), new_cause_share=float(np.mean(truth < 0)), folds=len(folds), meaning=meaning,
        ece=metrics.expected_calibration_error(table), reliability=table,
    )  # fmt: skip


def evaluate_folds(
    history: History, *, folds: int = 5, opinions: Sequence[Opinion] = OPINIONS,
    progress: Progress = lambda done, total: None,
) -> Evaluation:  # fmt: skip
    """Answer the complaints of each fold after learning from the other folds alone. folds: at least 2."""
    fold = stratified_folds(history.corpus.cases.cause[history.rows_to_learn()], folds)
    answers = _answer_held_out(history, [fold == at for at in range(folds)], opinions, progress)
    return measure(answers, meaning=history.corpus.space is not None)


def _answer_held_out(
    history: History, parts: Sequence[BoolArray], opinions: Sequence[Opinion], progress: Progress
) -> list[Answered]:
    """Answer the cases of each part from all others. parts: masks over history.rows_to_learn()."""
    rows, answers = history.rows_to_learn(), list[Answered]()
    for at, held_out in enumerate(parts):
        usable = np.isin(np.arange(history.corpus.cases.size), rows[~held_out])
        model = fit_model(replace(history, usable=usable), opinions=opinions)
        answers += [answer_past_case(model, history, row, usable, at) for row in rows[held_out].tolist()]
        progress(at + 1, len(parts))
    return answers


def evaluate_notebook(
    causes: NotebookCauses, *, last: int = _LAST, opinions: Sequence[Opinion] = OPINIONS,
    progress: Progress = lambda done, total: None,
) -> Evaluation:  # fmt: skip
    """Answer each of the last cases of a notebook from earlier cases only, and measure the answers.

    They come in order of date, then case number, each in the owner's words (else the symptoms), with family,
    make, device and blinks. The tuning is fitted on the cases before the first. Linear models are learned
    again before each answer in a small notebook, else twelve times in all.
    """
    days, ids, history = causes.table.date_days, causes.table.ids, causes.history()
    order = sorted(np.flatnonzero(causes.usable).tolist(), key=lambda row: (days[row], ids[row]))
    first = max(1, len(order) - last)
    earlier = np.isin(np.arange(len(ids)), order[:first])
    model = fit_model(replace(history, usable=earlier), opinions=opinions)
    stride = 1 if len(order) <= _LEARN_EACH_TIME else max(1, (len(order) - first) // _TIMES_LEARNED)
    answers: list[Answered] = []
    for done, row in enumerate(order[first:]):
        if done and done % stride == 0:
            model = fit_model(replace(history, usable=earlier), tuning=model.tuning)
        answers.append(answer_past_case(model, history, row, earlier))
        earlier = earlier.copy()  # a mask of its own, as results are kept for a mask
        earlier[row] = True
        progress(done + 1, len(order) - first)
    return measure(answers, meaning=causes.meaning is not None)


@dataclass(frozen=True, kw_only=True)
class OpenSetFigures(JsonRecord):
    """What was measured of the probability of "not in this notebook".

    new, known: number of complaints whose cause was hidden, or not. auc: how often a new one has a higher
    probability than a known one. mean_new, mean_known: mean probability. ece, reliability: after scaling it
    to the true share of new ones, which no notebook can know; ten equal bins.
    """

    new: int
    known: int
    auc: float
    mean_new: float
    mean_known: float
    ece: float
    reliability: tuple[metrics.ReliabilityBin, ...]

    def as_text(self) -> str:
        """Return a table to read."""
        table = metrics.measures_table(
            ("complaints", f"{self.new + self.known}", f"the cause of {self.new} was hidden"),
            ("area under curve", f"{self.auc:.3f}", "new ones told from known ones; .5 by chance, 1 is best"),
            ("mean of new", per_cent(self.mean_new), '"not in this notebook" where the cause was hidden'),
            ("mean of known", per_cent(self.mean_known), "the same where it was not hidden"),
            ("calibration", per_cent(self.ece), "mean gap, after scaling to the true share of new ones"),
        )
        return f"{table}\n\n{metrics.reliability_lines(self.reliability)}"


def open_set_figures(claimed: FloatArray, new: BoolArray) -> OpenSetFigures:
    """Return the figures. claimed: (n,) probabilities of "not in this notebook". new: (n,) what was true."""
    table = metrics.reliability(metrics.at_share(claimed, float(new.mean())), new)
    return OpenSetFigures(
        new=int(np.count_nonzero(new)), known=int(np.count_nonzero(~new)), reliability=table,
        auc=metrics.area_under_curve(claimed, new), ece=metrics.expected_calibration_error(table),
        mean_new=float(claimed[new].mean()), mean_known=float(claimed[~new].mean()),
    )  # fmt: skip


def measure_open_set(
    history: History, *, opinions: Sequence[Opinion] = OPINIONS, progress: Progress = lambda done, total: None
) -> OpenSetFigures:
    """Hide each fifth of the causes in turn. Ask their cases, and a fifth of the other cases, held out too.

    Everything is learned from the rest. A case whose cause is left in no other case counts as hidden.
    """
    rows = history.rows_to_learn()
    if not rows.size:
        raise BenchloreError("There is no case to measure on yet: none has a root cause.")
    cause = history.corpus.cases.cause[rows]
    causes, place = np.unique(cause, return_inverse=True)
    hidden_in = (np.random.default_rng(_SEED).permutation(len(causes)) % _PARTS)[place]
    fold = stratified_folds(cause, _PARTS, seed=_SEED)
    parts = [(hidden_in == at) | (fold == at) for at in range(_PARTS)]
    answers = _answer_held_out(history, parts, opinions, progress)
    claimed, new = zip(*((each.odds.not_in_notebook, each.truth < 0) for each in answers), strict=True)
    return open_set_figures(np.array(claimed), np.array(new))
