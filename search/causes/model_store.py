"""Keep what was learned of the causes in a file beside the index, and take it up again."""

import contextlib
import io
import json
import zipfile
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from kb.files import read_file
from search.causes.cross_validation import UNSEEN_LOGIT
from search.causes.linear import LinearModel
from search.causes.novelty import NoveltyModel
from search.causes.opinions import OPINIONS
from search.causes.pool import Tuning
from search.causes.training import CauseModel
from search.index.integrity import digest_of
from search.stats.arrays import IntArray

KEPT_FILE = "causes.npz"
_FORMAT = 9
_QUICK_ROWS = 1_500  # up to here learning again takes a second, so every new note is learned at once


@dataclass(frozen=True, kw_only=True)
class LearnedFrom:
    """Say what a model was learned from: state of the index, causes' keys, cases, width of features."""

    generation: str
    cause_keys: Sequence[str]
    cases: int
    width: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Kept:
    """Hold a model and what it was learned from."""

    source: LearnedFrom
    model: CauseModel

    def tuning_for(self, now: LearnedFrom) -> Tuning | None:
        """Return the tuning if the notebook has hardly grown since, so that it still holds."""
        tuning = self.model.tuning
        grown = abs(now.cases - tuning.cases)
        same = self.source.width == now.width and tuning.fitted
        return tuning if same and grown <= max(20, tuning.cases // 5) else None

    def model_for(self, now: LearnedFrom) -> CauseModel | None:
        """Return the model for a state of the notebook; None when it had better be learned again.

        In a large notebook the model of another state serves, for the causes it knows.
        """
        if self.source == now:
            return self.model
        return None if now.cases <= _QUICK_ROWS or self.tuning_for(now) is None else self.carried_to(now)

    def carried_to(self, now: LearnedFrom) -> CauseModel | None:
        """Return the model for the causes of another state; None when its features have another width."""
        if self.source.width != now.width:
            return None
        place = {key: at for at, key in enumerate(self.source.cause_keys)}
        at = np.array([place.get(key, -1) for key in now.cause_keys], np.int64)
        linear = {name: _moved(each, at) for name, each in self.model.linear.items()}
        return CauseModel(tuning=self.model.tuning, linear=linear)


def _moved(linear: LinearModel, at: IntArray) -> LinearModel:
    """Return a model with its causes in another order; at: (causes,) where each stood, -1 for a new one."""
    weights, offset = linear.weights[:, at], linear.offset[at]
    weights[:, at < 0] = 0
    # A cause met since then: votes speak for it, so this opinion should not shout it down.
    known = linear.offset > UNSEEN_LOGIT
    offset[at < 0] = float(np.median(linear.offset[known])) if known.any() else 0.0
    return LinearModel(weights=weights, offset=offset)


def keep(path: Path, kept: Kept) -> None:
    """Write a model to a file, whole or not at all; a folder that takes nothing is no error."""
    facts = {
        "made_by": _made_by(),
        "source": asdict(kept.source),
        "tuning": asdict(kept.model.tuning),
        "linear": list(kept.model.linear),
    }
    arrays: dict[str, npt.NDArray[Any]] = {"facts": np.frombuffer(json.dumps(facts).encode(), np.uint8)}
    for name, linear in kept.model.linear.items():
        arrays[f"{name}_weights"], arrays[f"{name}_offset"] = linear.weights.astype(np.float16), linear.offset
    file = io.BytesIO()
    np.savez(file, **arrays)  # type: ignore[arg-type]  # its stub takes the names for its own flag
    partial = path.with_suffix(".part")
    with contextlib.suppress(OSError):
        partial.unlink(missing_ok=True)
        with partial.open("xb") as stream:  # never into something that stood there, perhaps a link
            stream.write(digest_of(file.getvalue()).encode() + b"\n" + file.getvalue())
        partial.replace(path)


def read_kept(path: Path, now: LearnedFrom) -> Kept | None:
    """Return what is kept in a file; None when it is missing, damaged, or of another format or opinions.

    now: what a model would be learned from now; a file that is far too large for it is not read.
    """
    most = 1_000_000 + (8 * now.width + 5_000) * len(now.cause_keys)  # twice the causes, and long names
    try:
        digest, _, data = read_file(path, most=most).partition(b"\n")
        with zipfile.ZipFile(io.BytesIO(data)) as parts:  # ours is not compressed: it cannot unfold
            plain = all(part.compress_type == zipfile.ZIP_STORED for part in parts.infolist())
        if digest.decode("latin-1") != digest_of(data) or not plain:
            return None
        with np.load(io.BytesIO(data), allow_pickle=False) as archive:
            facts = json.loads(archive["facts"].tobytes())
            linear = {
                name: LinearModel(
                    weights=archive[f"{name}_weights"].astype(np.float32), offset=archive[f"{name}_offset"]
                )
                for name in facts["linear"]
            }
        if facts["made_by"] != _made_by():
            return None
        novelty = NoveltyModel(**facts["tuning"].pop("novelty"))
        tuning, source = Tuning(**facts["tuning"], novelty=novelty), LearnedFrom(**facts["source"])
    except Exception:
        # A sound file of another version, or of somebody who means harm, can fail in any way; learn again.
        return None
    shape = (source.width, len(source.cause_keys))
    if any(each.weights.shape != shape or each.offset.shape != shape[1:] for each in linear.values()):
        return None
    return Kept(source=source, model=CauseModel(tuning=tuning, linear=linear))


def _made_by() -> list[object]:
    return [_FORMAT, *(each.name for each in OPINIONS)]
