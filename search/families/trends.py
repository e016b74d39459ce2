"""Weak points across the notebook: causes that recur, boards that fail, and what is rising or falling."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from kb.terms import Vocabulary
from search.families.notebook_statistics import board_groups, years_of
from search.index.case_table import CaseTable
from search.stats.arrays import BoolArray, FloatArray, IntArray
from search.stats.intervals import wilson_interval

# Chosen by us: with fewer cases no split over the years can be told from chance, and each further test
# makes the others' threshold stricter. test_rare_causes_are_not_tested would notice.
FEWEST_TO_TEST = 5
FALSE_ALARM_RATE = 0.05


def trend_p_value(counts: IntArray, exposure: IntArray) -> float:
    """Return the two-sided p-value of a trend in counts over equally spaced years.

    counts: (years,) cases of one cause. exposure: (years,) cases of all causes, at least as many.
    Given the total number of cases n, and no trend, the cases fall on the years in proportion to the
    exposure; the sum of their years then has a distribution that is computed exactly, as the n-fold
    convolution of the exposure's own. This is the exact conditional test of the slope in a log-linear Poisson
    model with the exposure as offset. The smaller tail counts twice, at most 1.
    Years without exposure count as time passed.
    Returns: within [0, 1]; 1.0 where there is nothing to test (no case, or one year only).
    Source: Cox and Lewis, The Statistical Analysis of Series of Events, chapter 3 (from memory).
    """
    total = int(counts.sum())
    if total == 0 or np.count_nonzero(exposure) < 2:
        return 1.0
    masses = _sum_of_years(exposure / exposure.sum(), total)
    observed = int(counts @ np.arange(counts.size))
    at_most, at_least = masses[: observed + 1].sum(), masses[observed:].sum()
    return float(min(1.0, 2 * min(at_most, at_least)))


def _sum_of_years(shares: FloatArray, draws: int) -> FloatArray:
    """Return the distribution of the sum of `draws` years drawn with these shares, numbered from 0.

    By the discrete Fourier transform; its rounding is below 1e-12, far below any p-value that matters here.
    """
    size = draws * (shares.size - 1) + 1
    masses = np.fft.irfft(np.fft.rfft(shares, 2 * size) ** draws, 2 * size)[:size]
    return np.maximum(masses, 0.0)


def holm(p_values: Sequence[float]) -> list[float]:
    """Return p-values adjusted for being several, in the order given.

    The chance of a single false alarm among all of them stays at or below the threshold they are compared
    with, whatever their dependence. Ties keep equal adjusted values.
    Source: Holm 1979 (from memory).
    """
    adjusted = [0.0] * len(p_values)
    running = 0.0
    for rank, i in enumerate(sorted(range(len(p_values)), key=lambda i: p_values[i])):
        running = max(running, min(1.0, (len(p_values) - rank) * p_values[i]))
        adjusted[i] = running
    return adjusted


@dataclass(frozen=True, kw_only=True)
class Trend:
    """One cause over the years.

    counts: cases a year, of `totals` cases of all causes. p_value: of the trend test alone; adjusted: after
    Holm over all tested causes. direction: "rising" or "falling" where adjusted is at most FALSE_ALARM_RATE,
    else "". The share of all cases is meant, so that a busier shop is no rise.
    """

    root_cause: str
    years: tuple[int, ...]
    counts: tuple[int, ...]
    totals: tuple[int, ...]
    p_value: float
    adjusted: float
    direction: str


def find_trends(
    causes: IntArray, years: IntArray, names: Sequence[str], *, threshold: float = FALSE_ALARM_RATE
) -> tuple[Trend, ...]:
    """Return every cause that was tested, the surest trend first, then by name.

    causes: (n,) codes into names. years: (n,) calendar years. Causes with fewer than FEWEST_TO_TEST cases are
    not tested. threshold: chance of a single false alarm among all the causes.
    """
    if causes.size == 0:
        return ()
    first = int(years.min())
    span = int(years.max()) - first + 1
    table = np.bincount(causes * span + (years - first), minlength=len(names) * span)
    table = table.reshape(len(names), span)
    totals = table.sum(axis=0)
    tested = np.flatnonzero(table.sum(axis=1) >= FEWEST_TO_TEST)
    p_values = [trend_p_value(table[code], totals) for code in tested]
    trends = []
    for code, p_value, adjusted in zip(tested.tolist(), p_values, holm(p_values), strict=True):
        expected = table[code].sum() * (totals @ np.arange(span)) / totals.sum()
        direction = "rising" if table[code] @ np.arange(span) > expected else "falling"
        trends.append(
            Trend(
                root_cause=names[code],
                years=tuple(range(first, first + span)),
                counts=tuple(table[code].tolist()),
                totals=tuple(totals.tolist()),
                p_value=p_value,
                adjusted=adjusted,
                direction=direction if adjusted <= threshold else "",
            )
        )
    return tuple(sorted(trends, key=lambda trend: (trend.adjusted, trend.p_value, trend.root_cause)))


@dataclass(frozen=True, kw_only=True)
class Recurring:
    """A root cause or a board over the families: where it fails, how often, of all cases, and how it ends.

    low, high: Wilson 95 % interval of `cases` among all cases. families: names with counts, most cases first.
    """

    name: str
    cases: int
    fixed: int
    share: float
    low: float
    high: float
    families: tuple[tuple[str, int], ...]


def recurring(
    codes: IntArray,
    families: IntArray,
    fixed: BoolArray,
    *,
    names: Sequence[str],
    family_names: Sequence[str],
) -> tuple[Recurring, ...]:
    """Return each named thing with the families it was seen in, most families first, then cases, then name.

    codes, families: (n,) into names and family_names; negative counts among all cases but names nothing.
    fixed: (n,) whether the case ended fixed.
    """
    total = codes.size
    named = (codes >= 0) & (families >= 0)
    cases = np.bincount(codes[codes >= 0], minlength=len(names))
    mended = np.bincount(codes[(codes >= 0) & fixed], minlength=len(names))
    width = max(len(family_names), 1)
    pairs, counts = np.unique(codes[named].astype(np.int64) * width + families[named], return_counts=True)
    bounds = np.searchsorted(pairs, np.arange(len(names) + 1) * width)
    found = []
    for code, (start, stop) in enumerate(pairwise(bounds.tolist())):
        if cases[code] == 0:
            continue
        seen = [
            (family_names[pair % width], count)
            for pair, count in zip(pairs[start:stop].tolist(), counts[start:stop].tolist(), strict=True)
        ]
        low, high = wilson_interval(int(cases[code]), total)
        found.append(
            Recurring(
                name=names[code],
                cases=int(cases[code]),
                fixed=int(mended[code]),
                share=int(cases[code]) / total,
                low=low,
                high=high,
                families=tuple(sorted(seen, key=lambda item: (-item[1], item[0]))),
            )
        )
    return tuple(sorted(found, key=lambda item: (-len(item.families), -item.cases, item.name)))


@dataclass(frozen=True, kw_only=True)
class WeakPoints:
    """What fails across the notebook.

    causes: seen in two families or more, most families first. boards: most cases first. trends: every tested
    cause, the surest first; only those with a direction are more than chance.
    """

    cases: int
    causes: tuple[Recurring, ...]
    boards: tuple[Recurring, ...]
    trends: tuple[Trend, ...]


def weak_points(table: CaseTable, *, vocabulary: Vocabulary | None = None) -> WeakPoints:
    """Return the weak points of all readable cases.

    vocabulary: which names mean one board; without it only spellings that differ in case are one.
    """
    rows = np.flatnonzero(table.alive & table.readable)
    fixed = table.fixed[rows]
    group, board_names = board_groups(table, vocabulary)
    boards = recurring(
        group[table.board[rows]],
        table.family[rows],
        fixed,
        names=board_names,
        family_names=table.family_names,
    )
    causes = recurring(
        table.cause[rows], table.family[rows], fixed, names=table.cause_names, family_names=table.family_names
    )
    named = rows[table.cause[rows] >= 0]
    return WeakPoints(
        cases=int(rows.size),
        causes=tuple(cause for cause in causes if len(cause.families) > 1),
        boards=tuple(sorted(boards, key=lambda board: (-board.cases, board.name))),
        trends=find_trends(table.cause[named], years_of(table.date_days[named]), table.cause_names),
    )
