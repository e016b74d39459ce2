"""Hear a danger that no rule and no phrase finds, by comparing a complaint with sentences about dangers.

Kernel ridge regression on sentence vectors (Saunders, Gammerman and Vovk 1998; from memory): each sentence of
danger_sentences.toml votes for its kind; the more it is like the complaint, the more its vote counts.
"""

import contextlib
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

import numpy as np

from kb.files import cache_folder, own_toml, read_file
from search.causes.checked_file import read_checked, write_checked
from search.index.integrity import digest_of
from search.reading.sentences import WIDTH, SentenceModel
from search.stats.arrays import FloatArray

_FILE = "danger_sentences.toml"
_LARGEST_BYTES = 20_000_000  # of the kept file; chosen by us
# Chosen by us on half of two writers' sentences.
_NEARNESS = 2.4  # how quickly votes fall with distance: exp(-_NEARNESS (1 - cosine))
_RIDGE = 0.2
_SURE = 0.55  # a danger is told if the share of "no danger" is below 1 by more than this


@dataclass(frozen=True, kw_only=True, eq=False)
class DangerModel:
    """Sentences and their votes. ideas: "" for no danger comes first.

    rows: (sentences, WIDTH). votes: (sentences, ideas). usual: (ideas,) share of each in all sentences.
    """

    sentences: SentenceModel
    ideas: tuple[str, ...]
    rows: FloatArray
    votes: FloatArray
    usual: FloatArray

    def heard(self, text: str) -> str:
        """Return the symptom of kb/terms.toml whose cautions a complaint needs, "" for none."""
        shares = _alike(self.rows, self.sentences.vectors([text]))[:, 0] @ self.votes + self.usual
        return self.ideas[1 + int(shares[1:].argmax())] if shares[0] < 1 - _SURE else ""


def danger_model(sentences: SentenceModel, *, wait: bool) -> DangerModel | None:
    """Return the model, which is kept for all notebooks of this user.

    wait: make it if it is not kept, which takes some seconds; else return None then.
    """
    made = _model.cache_info().currsize or _path().exists()
    return _model(sentences) if wait or made else None


@cache
def _said() -> list[tuple[str, str]]:
    """All sentences, each after the concept of its danger, "" for none."""
    kinds = own_toml(__file__, _FILE)["kind"]
    return [(kind["idea"], line) for kind in kinds for line in kind["said"].split("\n") if line.strip()]


@cache
def _made_by() -> str:
    return digest_of(repr((_said(), digest_of(read_file(Path(__file__))))).encode())


def _path() -> Path:
    return cache_folder() / f"dangers-{_made_by()[:16]}.model"


@lru_cache(maxsize=1)
def _model(sentences: SentenceModel) -> DangerModel:
    """Read the model, or make it if what is kept is missing, damaged, or made from anything else."""
    said = _said()
    ideas = tuple(sorted({idea for idea, _ in said}))
    target = np.array([[idea == each for each in ideas] for idea, _ in said], np.float64)
    usual = target.mean(axis=0)
    try:
        numbers = np.frombuffer(read_checked(_path(), most=_LARGEST_BYTES)[1], np.float32)
        rows, votes = np.hsplit(numbers.reshape(len(said), WIDTH + len(ideas)), [WIDTH])
    except (OSError, ValueError):
        rows = sentences.vectors_once([line for _, line in said])
        alike = _alike(rows, rows) + _RIDGE * np.eye(len(rows))
        votes = np.linalg.solve(alike, target - usual).astype(np.float32)
        with contextlib.suppress(OSError):
            _path().parent.mkdir(parents=True, exist_ok=True)
            write_checked(_path(), _made_by(), np.hstack([rows, votes]).tobytes())
    return DangerModel(sentences=sentences, ideas=ideas, rows=rows, votes=votes, usual=usual)


def _alike(some: FloatArray, others: FloatArray) -> FloatArray:
    """Return how alike unit vectors are, 0 to 1; (len(some), len(others))."""
    alike: FloatArray = np.exp(_NEARNESS * (some @ others.T - 1))
    return alike
