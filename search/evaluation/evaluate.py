"""Measure how well the notebook answers: through time on itself, or by folds on a labelled list."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from search.causes.cross_validation import History, Progress
from search.causes.notebook_causes import NotebookCauses
from search.causes.odds import CauseOdds
from search.causes.opinion import Opinion
from search.causes.opinions import OPINIONS
from search.causes.training import fit_model
from search.evaluation.metrics import (
    ReliabilityBin,
    brier_score,
    expected_calibration_error,
    log_loss,
    mean_reciprocal_rank,
    ranks_of,
    reliability,
    share_within,
)
from search.evaluation.report import measures_table, per_cent, reliability_lines, reliability_plot
from search.records import JsonRecord
from search.stats.arrays import IntArray
from search.stats.folds import stratified_folds

_LAST = 60  # cases answered through time where no number is given
_LEARN_EACH_TIME = 300  # up to so many cases everything is learned again before each answer; chosen by us
_TIMES_LEARNED = 12  # above that, learned again so many times over the window


@dataclass(frozen=True, kw_only=True)
class Evaluation(JsonRecord):
    """Hold what was measured.

    n: cases answered. top1, top3, mrr, log_loss (nats), brier: means over folds where there are folds. A case
    whose cause no earlier case had counts as a miss (rank infinite), and its log loss is taken from the
    probability given to "not in this notebook". ece, reliability: of the probability of the first cause, over
    all cases together, ten equal bins. new_cause_share: cases whose cause was new. folds: 1 through time.
    """

    n: int
    top1: float
    top3: float
    mrr: float
    log_loss: float
    brier: float
    ece: float
    new_cause_share: float
    reliability: tuple[ReliabilityBin, ...]
    folds: int = 1
    meaning: bool = True

    def as_text(self) -> str:
        """Return a table to read, with the reliability plot."""
        if not self.n:
            return "There is no case to measure on yet."
        first = round(self.top1 * self.n)
        rows = [
            (
                "cases",
                f"{self.n}",
                f"{self.folds} folds" if self.folds > 1 else "each from earlier cases only",
            ),
            ("right first", per_cent(self.top1), f"the real cause came first in {first} of {self.n}"),
            ("among three", per_cent(self.top3), "the real cause was among the first three"),
            (
                "new causes",
                per_cent(self.new_cause_share),
                "no case before had the cause: always a miss above",
            ),
            ("mean 1/rank", f"{self.mrr:.2f}", "1 is best"),
            ("log loss", f"{self.log_loss:.2f}", "nats; 0 is best"),
            ("Brier score", f"{self.brier:.2f}", "0 is best, 2 worst"),
            ("calibration", per_cent(self.ece), "mean gap between what is claimed and what comes true"),
            ("meaning", "yes" if self.meaning else "no", "" if self.meaning else "from words alone"),
        ]
        parts = [
            measures_table(rows),
            reliability_lines(self.reliability),
            reliability_plot(self.reliability),
        ]
        return "\n\n".join(parts)


class Answered(NamedTuple):
    """One case, the answer it got, and what it turned out to be (-1: a cause no usable case had)."""

    odds: CauseOdds
    truth: int
    fold: int


def measure(answers: Sequence[Answered], *, meaning: bool) -> Evaluation:
    """Return the measures of a list of answers."""
    if not answers:
        nothing = float("nan")
        return Evaluation(
            n=0, top1=nothing, top3=nothing, mrr=nothing, log_loss=nothing, brier=nothing, ece=nothing,
            new_cause_share=nothing, reliability=(), meaning=meaning,
        )  # fmt: skip
    truth = np.array([answer.truth for answer in answers], np.int64)
    fold = np.array([answer.fold for answer in answers], np.int64)
    probabilities = np.stack([answer.odds.probability for answer in answers])
    new = np.array([answer.odds.not_in_notebook for answer in answers])
    own = np.where(truth >= 0, probabilities[np.arange(len(truth)), np.maximum(truth, 0)], new)
    ranks = ranks_of(probabilities, truth)
    everything = np.column_stack([probabilities, new])
    outcome = np.where(truth >= 0, truth, probabilities.shape[1])
    claimed = probabilities.max(axis=1)
    table = reliability(claimed, probabilities.argmax(axis=1) == truth)
    at = [np.flatnonzero(fold == each) for each in np.unique(fold)]

    def over_folds(value: Callable[[IntArray], float]) -> float:
        return float(np.mean([value(rows) for rows in at]))

    return Evaluation(
        n=len(answers),
        top1=over_folds(lambda rows: share_within(ranks[rows], 1)),
        top3=over_folds(lambda rows: share_within(ranks[rows], 3)),
        mrr=over_folds(lambda rows: mean_reciprocal_rank(ranks[rows])),
        log_loss=over_folds(lambda rows: log_loss(own[rows])),
        brier=over_folds(lambda rows: brier_score(everything[rows], outcome[rows])),
        ece=expected_calibration_error(table),
        new_cause_share=float(np.mean(truth < 0)),
        reliability=table,
        folds=len(at),
        meaning=meaning,
    )


def evaluate_folds(
    history: History,
    *,
    folds: int = 5,
    opinions: Sequence[Opinion] = OPINIONS,
    progress: Progress | None = None,
) -> Evaluation:
    """Answer every complaint of a history from the other folds, and measure the answers.

    Everything is fitted within the other folds. folds: at least 2, stratified by cause, from a fixed seed.
    """
    cases = history.corpus.cases
    fold = stratified_folds(cases.cause, folds)
    answers: list[Answered] = []
    for at in range(folds):
        mask = fold != at
        model = fit_model(replace(history, usable=mask), opinions=opinions)
        seen = np.bincount(cases.cause[mask], minlength=cases.n_causes) > 0
        for row in np.flatnonzero(~mask).tolist():
            odds = model.odds(history.corpus, history.queries[row], mask)
            truth = int(cases.cause[row])
            answers.append(Answered(odds=odds, truth=truth if seen[truth] else -1, fold=at))
        if progress is not None:
            progress(at + 1, folds)
    return measure(answers, meaning=history.corpus.space is not None)


def evaluate_notebook(
    causes: NotebookCauses,
    *,
    last: int = _LAST,
    opinions: Sequence[Opinion] = OPINIONS,
    progress: Progress | None = None,
) -> Evaluation:
    """Answer each of the last cases of a notebook from earlier cases only, and measure the answers.

    Cases are taken in the order of date, then case id. Each is asked in the owner's words (the symptoms where
    those were not noted), with family, make, device and blinks. The tuning is fitted on the cases before the
    first of them; the linear opinion is learned again before each answer in a small notebook, else twelve
    times over the whole window.
    """
    cases, table = causes.corpus.cases, causes.table
    rows = np.flatnonzero(causes.usable)
    order = np.array(
        sorted(rows.tolist(), key=lambda row: (int(cases.date_days[row]), table.ids[row])), np.int64
    )
    first = max(1, len(order) - last)
    mask = np.zeros(cases.size, np.bool_)
    mask[order[:first]] = True
    history = causes.history()
    model = fit_model(replace(history, usable=mask), opinions=opinions)
    stride = 1 if len(order) <= _LEARN_EACH_TIME else max(1, (len(order) - first) // _TIMES_LEARNED)
    answers: list[Answered] = []
    for place in range(first, len(order)):
        row = int(order[place])
        if place > first and (place - first) % stride == 0:
            model = fit_model(replace(history, usable=mask), tuning=model.tuning)
        odds = model.odds(causes.corpus, history.queries[row], mask)
        cause = int(cases.cause[row])
        met = bool((mask & (cases.cause == cause)).any())
        answers.append(Answered(odds=odds, truth=cause if met else -1, fold=0))
        mask = mask.copy()  # what follows from a mask is kept as long as it is asked for
        mask[row] = True
        if progress is not None:
            progress(place - first + 1, len(order) - first)
    return measure(answers, meaning=causes.meaning is not None)
