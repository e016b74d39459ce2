"""Intervals keep their promises at the edges and over all counts."""

import math
from statistics import median

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.stats.arrays import narrow
from search.stats.intervals import group_medians, median_interval, wilson_interval


@given(st.integers(0, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_wilson_interval_encloses_the_share(counts: tuple[int, int]) -> None:
    successes, trials = counts
    low, high = wilson_interval(successes, trials)
    assert 0.0 <= low < high <= 1.0
    if trials:
        assert low <= successes / trials <= high


def test_wilson_interval_of_nothing_is_everything() -> None:
    assert wilson_interval(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize("size", [1, 2, 3, 4, 5])
def test_median_interval_of_few_values_has_no_bounds(size: int) -> None:
    values = list(range(size))
    interval = median_interval(np.array(values))
    assert interval is not None
    assert (interval.low, interval.high) == (None, None)
    assert interval.median == median(values)
    assert interval.size == size


def test_median_interval_of_nothing_is_none() -> None:
    assert median_interval(np.empty(0)) is None


@given(st.lists(st.tuples(st.integers(-1, 4), st.one_of(st.just(math.nan), st.integers(0, 99)))))
def test_group_medians_equal_the_slow_ones(rows: list[tuple[int, float]]) -> None:
    groups = np.array([group for group, _ in rows], dtype=np.int64)
    values = np.array([value for _, value in rows], dtype=np.float64)
    medians = group_medians(values, groups, 5)
    for code in range(5):
        own = [value for group, value in rows if group == code and not math.isnan(value)]
        assert medians[code] == median(own) if own else math.isnan(medians[code])


@pytest.mark.parametrize("most", [5, 200, 40_000], ids=["one-byte", "two-bytes", "four-bytes"])
def test_narrowed_codes_say_the_same_in_fewer_bytes(most: int) -> None:
    codes = np.array([-1, most, 0], np.int64)
    assert narrow(codes).tolist() == codes.tolist()
    assert narrow(codes).itemsize == {5: 1, 200: 2, 40_000: 4}[most]
    assert narrow(codes[:0]).size == 0
