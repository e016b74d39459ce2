"""Linear models of the causes: a multinomial logistic model, and class means with one shared spread."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from search.stats.arrays import FloatArray, IntArray

STEPS = 60  # most iterations of a fit; chosen by us
_OFFSET_PENALTY = 0.01  # holds the offsets of classes with few cases; chosen by us


def log_softmax(scores: FloatArray) -> FloatArray:
    """Return scores less the log of the sum of their exponentials, along the last axis."""
    shifted = scores - scores.max(axis=-1, keepdims=True)
    result: FloatArray = shifted - np.log(np.exp(shifted).sum(axis=-1, keepdims=True))
    return result


def minimise(
    objective: Callable[[FloatArray], tuple[float, FloatArray]],
    start: FloatArray,
    *,
    bounds: Sequence[tuple[float | None, float | None]] | None = None,
    **options: float,
) -> FloatArray:
    """Return the point of least value, by limited-memory BFGS. objective: returns value and gradient."""
    from scipy.optimize import minimize  # here, as it takes longer to load than a whole answer

    found = minimize(objective, start, jac=True, method="L-BFGS-B", bounds=bounds, options=options)
    point: FloatArray = found.x
    return point


@dataclass(frozen=True, kw_only=True)
class LinearModel:
    """Hold a weight vector and an offset for each class; scores of rows are rows @ weights + offset.

    weights: (width, classes). offset: (classes,).
    """

    weights: FloatArray
    offset: FloatArray

    def scores(self, rows: FloatArray) -> FloatArray:
        """Return the score of each class for each row; shape (..., classes)."""
        result: FloatArray = rows @ self.weights + self.offset
        return result

    def with_classes(self, at: IntArray) -> "LinearModel":
        """Return the model with other classes. at: old place of each new class, -1 for one without.

        Such a class gets the middle of all offsets, so that other opinions decide about it.
        """
        middle = float(np.median(self.offset)) if self.offset.size else 0.0
        weights, offset = np.pad(self.weights, ((0, 0), (0, 1))), np.append(self.offset, middle)
        return LinearModel(weights=weights[:, at], offset=offset[at])


def fit_logistic(
    rows: FloatArray,
    classes: IntArray,
    evidence: FloatArray,
    count: int,
    *,
    strength: float,
    steps: int = STEPS,
) -> LinearModel:
    """Fit a multinomial logistic model with a quadratic penalty, by limited-memory BFGS.

    rows: (n, width). classes: (n,) in 0 .. count - 1. evidence: (n,) how much each row counts, 0 to 1.
    strength: 1 / penalty, above 0: how far the rows may pull the weights away from 0. steps: most iterations.
    Returns: weights that are sums over the rows. Each row adds strength * evidence * (1 - p) of itself to its
    own class and takes strength * evidence * p from each other, where p are its fitted probabilities. So a
    row more like the complaint can only raise its own class, even if the fit stopped early.
    """
    kind, width = rows.dtype, rows.shape[1]
    target = np.eye(count, dtype=kind)[classes]
    counts = evidence.astype(kind)[:, None]
    share = (np.bincount(classes, evidence, count) + 0.5) / (evidence.sum() + 0.5 * count)
    usual = np.log(share)

    def objective(point: FloatArray) -> tuple[float, FloatArray]:
        weights, offset = point[:-count].reshape(width, count), point[-count:]
        logs = log_softmax(rows @ weights.astype(kind) + offset.astype(kind))
        wrong = (np.exp(logs) - target) * counts
        away = offset - usual
        value = 0.5 / strength * float(np.vdot(weights, weights)) + 0.5 * _OFFSET_PENALTY * float(away @ away)
        gradient = np.empty_like(point)
        gradient[:-count] = (rows.T @ wrong).ravel() + weights.ravel() / strength
        gradient[-count:] = wrong.sum(axis=0) + away * _OFFSET_PENALTY
        return value - float((logs[target > 0] * counts[:, 0]).sum()), gradient

    start = np.concatenate([np.zeros(width * count), usual])
    found = minimise(objective, start, maxiter=steps, ftol=1e-7, gtol=1e-6)
    weights, offset = found[:-count].reshape(width, count).astype(kind), found[-count:].astype(kind)
    pull = (target - np.exp(log_softmax(rows @ weights + offset))) * counts
    return LinearModel(weights=rows.T @ pull * np.asarray(strength, kind), offset=offset)


def fit_means(
    rows: FloatArray,
    classes: IntArray,
    evidence: FloatArray,
    count: int,
    *,
    shrink: float = 10.0,
    kappa: float = 2.0,
) -> LinearModel:
    """Fit class means with one shared, shrunken covariance: a closed form for very large notebooks.

    A class of n rows has the mean sum / (n + kappa), so that a class seen once stays near the middle.
    shrink: share of the average variance added to every direction. Offsets leave out how common classes are.
    Source: regularised discriminant analysis, Friedman 1989 (from memory); the shrinkage is chosen by us.
    """
    middle = np.average(rows, axis=0, weights=np.maximum(evidence, 1e-9)).astype(np.float64)
    counts, total = np.bincount(classes, evidence, count), evidence.sum()
    weighted = rows * evidence.astype(rows.dtype)[:, None]
    sums = np.transpose([np.bincount(classes, column, count) for column in weighted.T])
    sums = sums - counts[:, None] * middle
    means = sums / (counts + kappa)[:, None]
    # Sum over rows of (x - mean of class)(x - mean of class)', from sums alone.
    scatter = (weighted.T @ rows).astype(np.float64) - total * np.outer(middle, middle)
    scatter += means.T @ (means * counts[:, None]) - sums.T @ means - means.T @ sums
    spread = scatter / total
    width = rows.shape[1]
    ridge = shrink * max(float(np.trace(spread)) / width, 1e-9)
    weights = np.linalg.solve(spread + ridge * np.eye(width), means.T) * ridge
    offset = -0.5 * np.einsum("cw,wc->c", means, weights) - middle @ weights
    return LinearModel(weights=weights.astype(rows.dtype), offset=offset)
