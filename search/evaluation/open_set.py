"""Measure whether "not in this notebook yet" means it: hide causes and ask their complaints among others."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from kb.errors import BenchloreError
from search.causes.cross_validation import History, Progress
from search.causes.opinion import Opinion
from search.causes.opinions import OPINIONS
from search.causes.training import fit_model
from search.evaluation.evaluate import asked_again
from search.evaluation.metrics import (
    ReliabilityBin,
    area_under_curve,
    at_share,
    expected_calibration_error,
    reliability,
)
from search.evaluation.report import measures_table, per_cent, reliability_lines
from search.records import JsonRecord
from search.stats.arrays import BoolArray, FloatArray
from search.stats.folds import stratified_folds

_FOLDS = 5
_SEED = 20261128


@dataclass(frozen=True, kw_only=True)
class OpenSetFigures(JsonRecord):
    """What was measured.

    new, known: complaints asked whose cause was hidden, and whose cause was not. auc: area under the curve of
    the probability of "not in this notebook": how often a new one has more of it than a known one.
    mean_new, mean_known: its mean for each. ece, reliability: of that probability brought to the share of new
    ones asked, which no notebook can guess from its own cases; ten equal bins.
    """

    new: int
    known: int
    auc: float
    mean_new: float
    mean_known: float
    ece: float
    reliability: tuple[ReliabilityBin, ...]

    def as_text(self) -> str:
        """Return a table to read."""
        table = measures_table(
            ("complaints", f"{self.new + self.known}", f"of {self.new} the cause was hidden"),
            ("area under curve", f"{self.auc:.3f}", "new ones told from known ones; .5 by chance, 1 is best"),
            ("mean of new", per_cent(self.mean_new), '"not in this notebook" where the cause was hidden'),
            ("mean of known", per_cent(self.mean_known), "where it was not"),
            ("calibration", per_cent(self.ece), "mean gap, brought to the share of new ones asked"),
        )
        return f"{table}\n\n{reliability_lines(self.reliability)}"


def open_set_figures(claimed: FloatArray, new: BoolArray) -> OpenSetFigures:
    """Return the figures. claimed: (n,) probabilities of "not in this notebook". new: (n,) what was true."""
    table = reliability(at_share(claimed, float(new.mean())), new)
    return OpenSetFigures(
        new=int(np.count_nonzero(new)),
        known=int(np.count_nonzero(~new)),
        auc=area_under_curve(claimed, new),
        mean_new=float(claimed[new].mean()),
        mean_known=float(claimed[~new].mean()),
        ece=expected_calibration_error(table),
        reliability=table,
    )


def measure_open_set(
    history: History,
    *,
    opinions: Sequence[Opinion] = OPINIONS,
    progress: Progress = lambda done, total: None,
) -> OpenSetFigures:
    """Hide each fifth of the causes in turn, and ask their cases among a fifth of the others, held out too.

    Everything is learned from the rest. A case held out whose cause no other case has counts as hidden.
    """
    rows = history.rows_to_learn()
    if not rows.size:
        raise BenchloreError("There is no case to measure on yet: none has a root cause.")
    cause = history.corpus.cases.cause[rows]
    causes, place = np.unique(cause, return_inverse=True)
    hidden_in = (np.random.default_rng(_SEED).permutation(len(causes)) % _FOLDS)[place]
    fold = stratified_folds(cause, _FOLDS, seed=_SEED)
    asked: list[tuple[float, bool]] = []
    for at in range(_FOLDS):
        left_out = (hidden_in == at) | (fold == at)
        usable = np.isin(np.arange(history.corpus.cases.size), rows[~left_out])
        model = fit_model(replace(history, usable=usable), opinions=opinions)
        answers = (asked_again(model, history, row, usable) for row in rows[left_out].tolist())
        asked += [(each.odds.not_in_notebook, each.truth < 0) for each in answers]
        progress(at + 1, _FOLDS)
    claimed, new = zip(*asked, strict=True)
    return open_set_figures(np.array(claimed), np.array(new))
