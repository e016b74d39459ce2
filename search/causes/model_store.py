"""Keep what was learned of the causes in a file beside the index, and take it up again."""

import contextlib
import io
import json
import zipfile
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from kb.files import read_file
from search.causes.linear import LinearModel
from search.causes.novelty import NoveltyModel
from search.causes.opinions import OPINIONS
from search.causes.pool import Tuning
from search.causes.training import CauseModel, LearnedFrom
from search.index.integrity import digest_of

KEPT_FILE = "causes.npz"
_FORMAT = 9


def keep(path: Path, model: CauseModel) -> None:
    """Write a model to a file, whole or not at all; a folder that takes nothing is no error."""
    facts = {
        "made_by": _made_by(),
        "source": asdict(model.source),
        "tuning": asdict(model.tuning),
        "linear": list(model.linear),
    }
    arrays: dict[str, npt.NDArray[Any]] = {"facts": np.frombuffer(json.dumps(facts).encode(), np.uint8)}
    for name, linear in model.linear.items():
        arrays[f"{name}_weights"], arrays[f"{name}_offset"] = linear.weights.astype(np.float16), linear.offset
    file = io.BytesIO()
    np.savez(file, **arrays)  # type: ignore[arg-type]  # its stub takes the names for its own flag
    partial = path.with_suffix(".part")
    with contextlib.suppress(OSError):
        partial.unlink(missing_ok=True)
        with partial.open("xb") as stream:  # never into something that stood there, perhaps a link
            stream.write(digest_of(file.getvalue()).encode() + b"\n" + file.getvalue())
        partial.replace(path)


def read_kept(path: Path, now: LearnedFrom) -> CauseModel | None:
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
    return CauseModel(tuning=tuning, linear=linear, source=source)


def _made_by() -> list[object]:
    return [_FORMAT, *(each.name for each in OPINIONS)]
