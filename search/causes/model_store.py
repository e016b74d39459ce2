"""What was learned about the causes: how it is asked, carried to another state, written and read."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from math import prod
from pathlib import Path
from typing import NamedTuple, Self

import numpy as np

from kb.terms import SIGNS
from search.causes.checked_file import read_checked, write_checked
from search.causes.context import ComplaintContext, Corpus
from search.causes.linear import LinearModel
from search.causes.odds import CauseOdds, cause_odds
from search.causes.opinions import OPINIONS
from search.causes.pool import Tuning
from search.causes.query_features import QueryFeatures
from search.index.integrity import digest_of
from search.stats.arrays import BoolArray, FloatArray

KEPT_FILE = "causes.model"
_FORMAT = 11
_QUICK_ROWS = 1_500  # with so few, learning again takes a second, so every new note is learned at once


class LearnedFrom(NamedTuple):
    """What a model is learned from: a state of the index, its causes and cases, the width of features."""

    generation: str
    cause_keys: Sequence[str]
    cases: int
    width: int


_NOTHING = LearnedFrom("", (), 0, 0)


@dataclass(frozen=True, kw_only=True, eq=False)
class CauseModel:
    """Hold what was learned: the tuning, and a linear model for each learned opinion, by its name."""

    tuning: Tuning
    linear: Mapping[str, LinearModel]
    source: LearnedFrom = _NOTHING

    @classmethod
    def unlearned(cls) -> Self:
        """Return the defaults: opinions that need no learning, with their usual weights."""
        return cls(tuning=Tuning.usual([each for each in OPINIONS if each.fit is None]), linear={})

    def scores(self, row: FloatArray) -> dict[str, FloatArray]:
        """Return the scores of each linear model for a complaint's feature row, (n_causes,) each."""
        return {name: model.scores(row).astype(np.float64) for name, model in self.linear.items()}

    def odds(self, corpus: Corpus, query: QueryFeatures, usable: BoolArray) -> CauseOdds:
        """Return the odds for a complaint. usable: (size,) past cases with a cause to answer from."""
        return cause_odds(ComplaintContext(corpus, query, usable, self.scores(query.row)), self.tuning)

    def tuning_for(self, now: LearnedFrom) -> Tuning | None:
        """Return the tuning if the notebook has hardly grown since, else None."""
        fitted_on, same = self.tuning.cases, self.source.width == now.width
        grown = abs(now.cases - fitted_on)
        return self.tuning if same and fitted_on and grown <= max(20, fitted_on // 5) else None

    def for_state(self, now: LearnedFrom) -> Self | None:
        """Return the model for a state of the notebook; None when it should be learned again.

        In a large notebook the model of another state serves for the causes it knows.
        """
        if self.source == now:
            return self
        return None if now.cases <= _QUICK_ROWS or self.tuning_for(now) is None else self.carried_to(now)

    def carried_to(self, now: LearnedFrom) -> Self | None:
        """Return the model for the causes of another state; None when its features have another width."""
        if self.source.width != now.width:
            return None
        if self.source.cause_keys == now.cause_keys:
            return replace(self, source=now)
        place = {key: at for at, key in enumerate(self.source.cause_keys)}
        at = np.array([place.get(key, -1) for key in now.cause_keys], np.int64)
        linear = {name: each.with_classes(at) for name, each in self.linear.items()}
        return replace(self, linear=linear, source=now)


def keep(path: Path, model: CauseModel) -> None:
    """Write a model to a file, whole or not at all; a folder that cannot be written to is no error.

    The file is a line of JSON, then float16 weights and float64 offsets of the linear models.
    """
    facts = {"made_by": _made_by(), "source": model.source, "tuning": asdict(model.tuning)}
    weights = np.array([each.weights for each in model.linear.values()], np.float16)
    offset = np.array([each.offset for each in model.linear.values()], np.float64)
    write_checked(path, facts | {"linear": list(model.linear)}, weights.tobytes() + offset.tobytes())


def read_kept(path: Path, now: LearnedFrom) -> CauseModel | None:
    """Return the model in a file; None when it is missing, damaged, or of another format or other opinions.

    now: what would be learned from; a file far too large for that is not read.
    """
    most = 1_000_000 + (8 * now.width + 5_000) * len(now.cause_keys)  # twice the causes, with long names
    try:
        head, numbers = read_checked(path, most=most)
        facts = json.loads(head)
        if facts["made_by"] != _made_by():
            return None
        tuning, source = Tuning(**facts["tuning"]), LearnedFrom(*facts["source"])
        names, causes = facts["linear"], len(source.cause_keys)
        shape = (len(names), source.width, causes)
        weights = np.frombuffer(numbers, np.float16, prod(shape)).reshape(shape).astype(np.float32)
        offset = np.frombuffer(numbers[2 * weights.size :], np.float64).reshape(len(names), causes)
    except Exception:
        # A file of another version, or made to do harm, can fail in any way: learn again.
        return None
    models = [LinearModel(weights=its, offset=own) for its, own in zip(weights, offset, strict=True)]
    return CauseModel(tuning=tuning, linear=dict(zip(names, models, strict=True)), source=source)


def _made_by() -> list[object]:
    return [_FORMAT, digest_of(SIGNS.read_bytes()), *(each.name for each in OPINIONS)]
