"""Measure how well the notebook answers: through time on itself, or by folds on a labelled list."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from kb.errors import BenchloreError
from search.arrays import BoolArray, FloatArray, IntArray
from search.causes import Asked, CauseOdds, PastCases, cause_odds
from search.concepts import ConceptFinder, default_finder, index_terms
from search.features import sketch_width, text_rows
from search.learning import History, Progress, fit_model
from search.likeness import MeaningSpace, join_likeness, word_likeness
from search.meaning import Meaning, load_meaning
from search.measures import (
    ReliabilityBin,
    brier_score,
    expected_calibration_error,
    log_loss,
    mean_reciprocal_rank,
    ranks_of,
    reliability,
    share_within,
)
from search.postings import MemoryPostings
from search.splitting import stratified_folds

_PLOT_WIDTH = 40


@dataclass(frozen=True, kw_only=True)
class Evaluation:
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

    def as_json(self) -> dict[str, Any]:
        """Return everything as plain values, by name."""
        return asdict(self)


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


@dataclass(frozen=True, kw_only=True, eq=False)
class LabelledList:
    """Hold a list of complaints with their causes, ready to be asked."""

    cases: PastCases
    texts: Sequence[str]
    cause_names: Sequence[str]


def _codes(values: Sequence[str]) -> tuple[IntArray, list[str]]:
    names = sorted({value for value in values if value})
    place = {name: code for code, name in enumerate(names)}
    return np.array([place.get(value, -1) for value in values], np.int64), names


def read_labelled_csv(path: Path, columns: Mapping[str, str]) -> LabelledList:
    """Read a labelled CSV file; rows without a complaint or a cause are left out.

    columns: the file's column for each of "complaint" and "cause", and where there are such of "family" and
    "device". Raises: BenchloreError that names the file and the column.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            names = reader.fieldnames or []
            for column in columns.values():
                if column not in names:
                    raise BenchloreError(
                        f"{path.name}:1: no column {column!r}; the columns are {', '.join(names)}"
                    )
            rows = [{key: (row[column] or "").strip() for key, column in columns.items()} for row in reader]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BenchloreError(f"{path.name}: cannot be read as a CSV file in UTF-8: {error}") from error
    rows = [row for row in rows if row["complaint"] and row["cause"]]
    cause, cause_names = _codes([row["cause"] for row in rows])
    nothing = np.full(len(rows), -1, np.int64)
    cases = PastCases(
        cause=cause,
        n_causes=len(cause_names),
        family=_codes([row.get("family", "") for row in rows])[0],
        make=nothing,
        device=_codes([row.get("device", "") for row in rows])[0],
        blink_code=nothing,
        blink_patterns=(),
        date_days=np.zeros(len(rows), np.int64),
        evidence=np.ones(len(rows)),
    )
    return LabelledList(cases=cases, texts=[row["complaint"] for row in rows], cause_names=cause_names)


class _ListAsker:
    """Ask complaints of a labelled list of the rows under a mask."""

    def __init__(self, listed: LabelledList, finder: ConceptFinder, meaning: Meaning | None) -> None:
        self.cases = listed.cases
        self.terms = [[_Term(term, 1.0) for term in index_terms(text, finder)] for text in listed.texts]
        causes = [index_terms(name, finder) for name in listed.cause_names]
        self.source = MemoryPostings(
            [
                {"complaint": [each.term for each in terms], "cause": causes[cause]}
                for terms, cause in zip(self.terms, listed.cases.cause.tolist(), strict=True)
            ]
        )
        self.vectors = None if meaning is None else meaning.vectors(listed.texts)
        width = sketch_width(len(listed.texts))
        self.rows = text_rows(listed.texts, finder, width=width, meaning=meaning, vectors=self.vectors)
        self.names = text_rows(listed.cause_names, finder, width=width, meaning=meaning)
        self._space: tuple[bytes, MeaningSpace] | None = None

    def asked(self, row: int, mask: BoolArray) -> Asked:
        """Return the complaint of a row against the rows under a mask, without scores."""
        words = word_likeness(self.terms[row], self.source, mask)
        meaning = None
        if self.vectors is not None:
            meaning = self._space_of(mask).likeness(self.vectors[row])
        return Asked(
            likeness=join_likeness(words, meaning),
            scores=np.zeros(self.cases.n_causes),
            family=int(self.cases.family[row]),
            device=int(self.cases.device[row]),
        )

    def _space_of(self, mask: BoolArray) -> MeaningSpace:
        assert self.vectors is not None
        key = mask.tobytes()
        if self._space is None or self._space[0] != key:
            self._space = key, MeaningSpace.of(self.vectors, mask)
        return self._space[1]


class _Term(NamedTuple):
    term: str
    weight: float


def evaluate_list(
    listed: LabelledList,
    *,
    folds: int = 5,
    finder: ConceptFinder | None = None,
    meaning: Meaning | None = None,
    progress: Progress | None = None,
) -> Evaluation:
    """Answer every complaint of a labelled list from the other folds, and measure the answers.

    folds: at least 2, stratified by cause, from a fixed seed. Everything is fitted within the other folds.
    """
    asker = _ListAsker(listed, finder or default_finder(), meaning)
    cases = listed.cases
    fold = stratified_folds(cases.cause, folds)
    answers: list[Answered] = []
    for at in range(folds):
        mask = fold != at
        history = History(cases=cases, rows=asker.rows, usable=mask, asked=asker.asked, names=asker.names)
        model = fit_model(history)
        seen = np.bincount(cases.cause[mask], minlength=cases.n_causes) > 0
        for row in np.flatnonzero(~mask).tolist():
            asked = replace(asker.asked(row, mask), scores=model.scores(asker.rows[row]))
            odds = cause_odds(cases, asked, model.tuning, usable=mask)
            truth = int(cases.cause[row])
            answers.append(Answered(odds=odds, truth=truth if seen[truth] else -1, fold=at))
        if progress is not None:
            progress(at + 1, folds)
    return measure(answers, meaning=meaning is not None)


def evaluate_csv(
    path: Path,
    columns: Mapping[str, str],
    *,
    folds: int = 5,
    words_alone: bool = False,
    progress: Progress | None = None,
) -> Evaluation:
    """Measure on a labelled CSV file by folds; see `read_labelled_csv` and `evaluate_list`.

    words_alone: leave out the meaning vectors even where the extra is installed.
    """
    meaning = None if words_alone else load_meaning()
    return evaluate_list(read_labelled_csv(path, columns), folds=folds, meaning=meaning, progress=progress)
