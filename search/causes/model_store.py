"""Keep what was learned of the causes in a file beside the index, and take it up again."""

import contextlib
import json
from dataclasses import asdict
from math import prod
from pathlib import Path

import numpy as np

from kb.files import read_file
from search.causes.linear import LinearModel
from search.causes.novelty import NoveltyModel
from search.causes.opinions import OPINIONS
from search.causes.pool import Tuning
from search.causes.training import CauseModel, LearnedFrom
from search.index.integrity import digest_of, write_file

KEPT_FILE = "causes.model"
_FORMAT = 10


def keep(path: Path, model: CauseModel) -> None:
    """Write a model to a file, whole or not at all; a folder that takes nothing is no error.

    One line of digest, one of JSON, then float16 weights and float64 offsets of the linear models.
    """
    facts = {"made_by": _made_by(), "source": model.source, "tuning": asdict(model.tuning)}
    head = json.dumps(facts | {"linear": list(model.linear)}).encode()
    weights = np.array([each.weights for each in model.linear.values()], np.float16)
    offset = np.array([each.offset for each in model.linear.values()], np.float64)
    data = head + b"\n" + weights.tobytes() + offset.tobytes()
    with contextlib.suppress(OSError):
        write_file(path, digest_of(data).encode() + b"\n" + data)


def read_kept(path: Path, now: LearnedFrom) -> CauseModel | None:
    """Return what is kept in a file; None when it is missing, damaged, or of another format or opinions.

    now: what a model would be learned from now; a file that is far too large for it is not read.
    """
    most = 1_000_000 + (8 * now.width + 5_000) * len(now.cause_keys)  # twice the causes, and long names
    try:
        digest, _, data = read_file(path, most=most).partition(b"\n")
        head, _, numbers = data.partition(b"\n")
        if (
            digest.decode("latin-1") != digest_of(data)
            or (facts := json.loads(head))["made_by"] != _made_by()
        ):
            return None
        novelty = NoveltyModel(**facts["tuning"].pop("novelty"))
        tuning, source = Tuning(**facts["tuning"], novelty=novelty), LearnedFrom(*facts["source"])
        names, causes = facts["linear"], len(source.cause_keys)
        shape = (len(names), source.width, causes)
        weights = np.frombuffer(numbers, np.float16, prod(shape)).reshape(shape).astype(np.float32)
        offset = np.frombuffer(numbers[2 * weights.size :], np.float64).reshape(len(names), causes)
    except Exception:
        # A sound file of another version, or of somebody who means harm, can fail in any way; learn again.
        return None
    linear = {
        name: LinearModel(weights=its_weights, offset=its_offset)
        for name, its_weights, its_offset in zip(names, weights, offset, strict=True)
    }
    return CauseModel(tuning=tuning, linear=linear, source=source)


def _made_by() -> list[object]:
    return [_FORMAT, *(each.name for each in OPINIONS)]
