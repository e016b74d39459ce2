"""Which question to ask the owner next: the one that splits the likeliest causes best."""

import tomllib
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from search.stats.arrays import FloatArray

_TOLD = tomllib.loads(Path(__file__).with_name("questions.toml").read_text(encoding="utf-8"))
QUESTIONS: Mapping[str, str] = _TOLD["questions"]  # how to ask for each symptom, by its concept


def same_thing(concept: str) -> frozenset[str]:
    """Return the symptoms that tell of the same thing as one, itself among them."""
    groups = [group for group in _TOLD["same_thing"] if concept in group]
    return frozenset((concept, *(other for group in groups for other in group)))


def information_gain(probability: FloatArray, yes: FloatArray) -> FloatArray:
    """Return the expected fall of entropy over the causes when the owner answers each question.

    Args:
        probability: (causes,) chances of the causes, taken relative to their sum.
        yes: (questions, causes) chance of a "yes" under each cause.

    Returns:
        (questions,) bits, H(A) - H(A | C).

    Source:
        Shannon 1948; Lindley 1956, On a Measure of the Information Provided by an Experiment.
    """
    weight = probability / probability.sum()
    gain: FloatArray = _binary_entropy(yes @ weight) - _binary_entropy(yes) @ weight
    return np.maximum(gain, 0.0)


def _binary_entropy(chance: FloatArray) -> FloatArray:
    """Return the entropy of a yes or no in bits; 0 for a certain one."""
    inner = np.clip(chance, 1e-12, 1 - 1e-12)
    entropy: FloatArray = -(inner * np.log2(inner) + (1 - inner) * np.log2(1 - inner))
    return np.where((chance <= 0) | (chance >= 1), 0.0, entropy)
