"""Split cases into folds, repeatably."""

import numpy as np

from search.stats.arrays import IntArray


def stratified_folds(classes: IntArray, folds: int, *, seed: int = 0) -> IntArray:
    """Return the fold of each row, (n,), from 0: rows are shuffled, sorted by class and dealt out in turn."""
    order = np.random.default_rng(seed).permutation(len(classes))
    order = order[np.argsort(classes[order], kind="stable")]
    fold = np.empty(len(classes), np.int64)
    fold[order] = np.arange(len(classes)) % folds
    return fold
