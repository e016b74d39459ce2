"""Fit the few models behind the causes: a logistic model, class means, and the weights that join them.

All are plain numpy, start from the same point and take a number of steps that depends on the size alone, so
that fitting twice gives the same answer.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from search.scoring.features import class_sums
from search.stats.arrays import BoolArray, FloatArray, IntArray

POOL_HOLD = 12.0  # cases' worth of holding exponents near their usual values; chosen by us
Objective = Callable[[FloatArray], tuple[float, FloatArray]]


def minimise(
    objective: Objective, start: FloatArray, *, steps: int, memory: int = 10, tolerance: float = 1e-7
) -> FloatArray:
    """Return where a smooth function is smallest, by limited-memory BFGS with backtracking.

    objective: value and gradient at a point of start's shape. steps: most iterations.
    tolerance: relative change of the value below which it is taken as found.
    Source: Nocedal and Wright 2006, Numerical Optimization, algorithm 7.4 (two-loop
    recursion; from memory).
    """
    point = start
    value, gradient = objective(point)
    history: deque[tuple[FloatArray, FloatArray, float]] = deque(maxlen=memory)
    for _ in range(steps):
        direction = -_two_loops(gradient, history)
        slope = float(np.vdot(direction, gradient))
        if slope > -1e-12:
            break
        size = 1.0 if history else min(1.0, 1.0 / (float(np.abs(gradient).sum()) + 1e-12))
        for _ in range(30):
            new_point = point + direction * np.asarray(size, dtype=point.dtype)
            new_value, new_gradient = objective(new_point)
            if new_value <= value + 1e-4 * size * slope:
                break
            size *= 0.5
        else:
            break
        change, bend = new_point - point, new_gradient - gradient
        curvature = float(np.vdot(change, bend))
        if curvature > 1e-12:
            history.append((change, bend, 1.0 / curvature))
        settled = abs(value - new_value) <= tolerance * max(abs(value), 1.0)
        point, value, gradient = new_point, new_value, new_gradient
        if settled:
            break
    return point


def _two_loops(gradient: FloatArray, history: deque[tuple[FloatArray, FloatArray, float]]) -> FloatArray:
    direction = gradient.copy()
    steps: list[float] = []
    for change, bend, inverse in reversed(history):
        steps.append(inverse * float(np.vdot(change, direction)))
        direction -= np.asarray(steps[-1], dtype=direction.dtype) * bend
    if history:
        change, bend, inverse = history[-1]
        direction *= np.asarray(1.0 / (inverse * float(np.vdot(bend, bend))), dtype=direction.dtype)
    for (change, bend, inverse), step in zip(history, reversed(steps), strict=True):
        back = inverse * float(np.vdot(bend, direction))
        direction += np.asarray(step - back, dtype=direction.dtype) * change
    return direction


def log_softmax(scores: FloatArray) -> FloatArray:
    """Return scores less the log of the sum of their exponentials, along the last axis."""
    shifted = scores - scores.max(axis=-1, keepdims=True)
    result: FloatArray = shifted - np.log(np.exp(shifted).sum(axis=-1, keepdims=True))
    return result


@dataclass(frozen=True, kw_only=True)
class LinearModel:
    """Hold one weight vector and one offset a class; scores of rows are rows @ weights + offset.

    weights: (width, classes). offset: (classes,).
    """

    weights: FloatArray
    offset: FloatArray

    def scores(self, rows: FloatArray) -> FloatArray:
        """Return the score of each class for each row; shape (..., classes)."""
        result: FloatArray = rows @ self.weights + self.offset
        return result


def fit_logistic(
    rows: FloatArray,
    classes: IntArray,
    evidence: FloatArray,
    *,
    count: int,
    strength: float,
    steps: int = 60,
    settled: float = 1e-7,
) -> LinearModel:
    """Fit a multinomial logistic model with a quadratic penalty.

    rows: (n, width). classes: (n,) in 0 .. count - 1. evidence: (n,) how much each row counts, 0 to 1.
    strength: how far the rows may pull the weights away from 0 (1 / penalty), above 0.
    The weights returned are sums over the rows: each adds strength * evidence * (1 - p) of itself to its own
    class and takes strength * evidence * p from every other, p being its fitted probabilities. So a row more
    like the complaint can only raise its own class, whatever state the fit was left in.
    """
    kind = rows.dtype
    target = np.zeros((len(rows), count), kind)
    target[np.arange(len(rows)), classes] = 1
    counts = evidence.astype(kind)[:, None]
    share = (class_counts(classes, evidence, count) + 0.5) / (evidence.sum() + 0.5 * count)
    width = rows.shape[1]

    def objective(point: FloatArray) -> tuple[float, FloatArray]:
        weights, offset = point[:width], point[width]
        logs = log_softmax(rows @ weights + offset)
        wrong = (np.exp(logs) - target) * counts
        value = -float((logs[target > 0] * counts[:, 0]).sum()) + 0.5 / strength * float(
            np.vdot(weights, weights)
        )
        gradient = np.empty_like(point)
        gradient[:width] = rows.T @ wrong + weights / np.asarray(strength, kind)
        gradient[width] = wrong.sum(axis=0) + (offset - start[width]) * np.asarray(_OFFSET_PENALTY, kind)
        return value + 0.5 * _OFFSET_PENALTY * float(np.square(offset - start[width]).sum()), gradient

    start = np.zeros((width + 1, count), kind)
    start[width] = np.log(share)
    point = minimise(objective, start, steps=steps, tolerance=settled)
    logs = log_softmax(rows @ point[:width] + point[width])
    pull = (target - np.exp(logs)) * counts
    return LinearModel(weights=rows.T @ pull * np.asarray(strength, kind), offset=point[width])


_OFFSET_PENALTY = 0.01  # keeps the offsets of classes with hardly a case near their share; chosen by us


def class_counts(classes: IntArray, evidence: FloatArray, count: int) -> FloatArray:
    """Return the evidence in each class; shape (count,)."""
    return np.bincount(classes, weights=evidence, minlength=count).astype(np.float64)


def fit_means(
    rows: FloatArray,
    classes: IntArray,
    evidence: FloatArray,
    *,
    count: int,
    shrink: float = 10.0,
    kappa: float = 2.0,
) -> LinearModel:
    """Fit class means with one common, strongly shrunken spread: a closed form for very large notebooks.

    A class of n rows has the mean sum / (n + kappa), so that a class seen once stays near the middle.
    shrink: how much of the average spread is added to every direction. Offsets hold no shares of classes.
    Source: regularised discriminant analysis, Friedman 1989 (from memory); the shrinkage is
    chosen by us.
    """
    middle = np.average(rows, axis=0, weights=np.maximum(evidence, 1e-9)).astype(np.float64)
    counts = class_counts(classes, evidence, count)
    weighted = rows * evidence.astype(rows.dtype)[:, None]
    sums = class_sums(weighted, classes, count) - counts[:, None] * middle
    means = sums / (counts + kappa)[:, None]
    total = evidence.sum()
    # Sum over rows of (x - mean of class)(x - mean of class)', from sums alone.
    scatter = (weighted.T @ rows).astype(np.float64) - total * np.outer(middle, middle)
    scatter += means.T @ (means * counts[:, None]) - sums.T @ means - means.T @ sums
    spread = scatter / total
    width = rows.shape[1]
    ridge = shrink * max(float(np.trace(spread)) / width, 1e-9)
    weights = np.linalg.solve(spread + ridge * np.eye(width), means.T) * ridge
    offset = -0.5 * np.einsum("cw,wc->c", means, weights) - middle @ weights
    return LinearModel(weights=weights.astype(rows.dtype), offset=offset)


def fit_pool(
    logs: Sequence[FloatArray],
    truth: IntArray,
    start: FloatArray,
    *,
    known: BoolArray,
    most: FloatArray,
    least: FloatArray | float = 0.0,
    hold: float = POOL_HOLD,
) -> FloatArray:
    """Return the exponents that join several opinions into one, by least log loss.

    logs: each (n, classes), natural logarithms of relative probabilities. truth: (n,). known: (n, classes)
    the classes that are in the running for each row. start: where to begin and what to stay near (hold: worth
    of how many cases). least, most: bounds. Source: logarithmic opinion pool, Genest
    and Zidek 1986 (from memory).
    """
    places = np.arange(len(truth))
    stacked = np.stack([np.where(known, one, 0.0) for one in logs])

    def value_of(exponents: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        joined = np.where(known, np.tensordot(exponents, stacked, axes=1), -np.inf)
        each = log_softmax(joined)
        share = np.exp(each)
        own = stacked[:, places, truth]
        mean = (stacked * share).sum(axis=2)
        away = exponents - start
        value = -float(each[places, truth].sum()) + 0.5 * hold * float(away @ away)
        spread = stacked - mean[:, :, None]
        bend = np.einsum("anc,bnc->ab", spread * share, spread) + hold * np.eye(len(exponents))
        return value, -(own - mean).sum(axis=1) + hold * away, bend

    exponents = start.copy()
    value, gradient, bend = value_of(exponents)
    for _ in range(30):
        held = ((exponents <= least) & (gradient > 0)) | ((exponents >= most) & (gradient < 0))
        if held.all():
            break
        step = np.zeros_like(exponents)
        free = ~held
        step[free] = -np.linalg.solve(bend[np.ix_(free, free)], gradient[free])
        size, moved = 1.0, False
        while size > 1e-4:
            trial = np.clip(exponents + size * step, least, most)
            new = value_of(trial)
            if new[0] < value - 1e-9:
                exponents, (value, gradient, bend), moved = trial, new, True
                break
            size *= 0.5
        if not moved:
            break
    return exponents
