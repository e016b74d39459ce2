"""Measure whether "not in this notebook yet" means it: hide causes and ask their complaints among others."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from search.causes.cross_validation import History, Progress
from search.causes.opinion import Opinion
from search.causes.opinions import OPINIONS
from search.causes.training import fit_model
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
    """Hold what was measured.

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
        rows = [
            ("complaints", f"{self.new + self.known}", f"of {self.new} the cause was hidden"),
            ("area under curve", f"{self.auc:.3f}", "new ones told from known ones; .5 by chance, 1 is best"),
            ("mean of new", per_cent(self.mean_new), '"not in this notebook" where the cause was hidden'),
            ("mean of known", per_cent(self.mean_known), "where it was not"),
            ("calibration", per_cent(self.ece), "mean gap, brought to the share of new ones asked"),
        ]
        return "\n\n".join([measures_table(rows), reliability_lines(self.reliability)])


def open_set_figures(claimed: FloatArray, new: BoolArray) -> OpenSetFigures:
    """Return the figures. claimed: (n,) probabilities of "not in this notebook". new: (n,) what was true."""
    shifted = at_share(claimed, float(new.mean()))
    table = reliability(shifted, new)
    return OpenSetFigures(
        new=int(new.sum()),
        known=int((~new).sum()),
        auc=area_under_curve(claimed, new),
        mean_new=float(claimed[new].mean()),
        mean_known=float(claimed[~new].mean()),
        ece=expected_calibration_error(table),
        reliability=table,
    )


def measure_open_set(
    history: History, *, opinions: Sequence[Opinion] = OPINIONS, progress: Progress | None = None
) -> OpenSetFigures:
    """Hide each fifth of the causes in turn, and ask their cases among a fifth of the others, held out too.

    Everything is learned from the rest. A case held out whose cause no other case has counts as hidden.
    """
    cases, rows = history.corpus.cases, history.rows_to_learn()
    causes, place = np.unique(cases.cause[rows], return_inverse=True)
    hidden_in = (np.random.default_rng(_SEED).permutation(len(causes)) % _FOLDS)[place]
    fold = stratified_folds(cases.cause[rows], _FOLDS, seed=_SEED)
    claimed: list[float] = []
    new: list[bool] = []
    for at in range(_FOLDS):
        asked = (hidden_in == at) | (fold == at)
        learn = np.zeros(cases.size, np.bool_)
        learn[rows[~asked]] = True
        model = fit_model(replace(history, usable=learn), opinions=opinions)
        known = cases.sums(learn) > 0
        for row in rows[asked].tolist():
            claimed.append(model.odds(history.corpus, history.queries[row], learn).not_in_notebook)
            new.append(not known[cases.cause[row]])
        if progress is not None:
            progress(at + 1, _FOLDS)
    return open_set_figures(np.array(claimed), np.array(new))
