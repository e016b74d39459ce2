"""Split cases into folds, repeatably."""

import numpy as np

from search.stats.arrays import IntArray


def stratified_folds(classes: IntArray, folds: int, *, seed: int = 0) -> IntArray:
    """Return the fold of each row, shape (n,), within [0, folds), each class spread as evenly as possible.

    Rows are shuffled, sorted by class and dealt out in turn, so that fold sizes differ by one at most, and so
    do the numbers of any class in any two folds. classes: shape (n,), any integers.
    """
    order = np.random.default_rng(seed).permutation(len(classes))
    order = order[np.argsort(classes[order], kind="stable")]
    fold = np.empty(len(classes), np.int64)
    fold[order] = np.arange(len(classes)) % folds
    return fold
