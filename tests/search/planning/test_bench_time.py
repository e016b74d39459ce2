"""The bench time to expect: worked by hand, against a slow mixture, and honest about new jobs."""

from collections.abc import Sequence
from fractions import Fraction
from operator import itemgetter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.planning.bench_time import (
    ENOUGH_FIX_TIMES,
    SPREAD_POINTS,
    FixTimeSpread,
    expected_bench_time,
    fix_time_sample,
    fix_time_spread,
)
from search.planning.checks import Check, CheckPlan


def minutes(*values: float) -> np.ndarray:
    return np.array(values, dtype=np.float64)


FLAT = FixTimeSpread(minutes=minutes(30, 60, 90), weights=np.full(3, 1 / 3), ratios=minutes(0.5, 1.0, 2.0))


def planned(
    *causes: tuple[float, float, Sequence[float]], opening_min: float = 0.0, spread: FixTimeSpread = FLAT
) -> CheckPlan:
    """Return a plan of outside checks: each with its probability, minutes until done, and fix times."""
    checks = [
        Check(
            root_cause=str(place), probability=chance, minutes=done - before, inside=False, fixed_inside=True,
            fix_times=fix_time_sample(minutes(*times), spread),
        )
        for place, ((chance, done, times), before) in enumerate(
            zip(causes, (0.0, *(done for _, done, _ in causes)), strict=False)
        )
    ]  # fmt: skip
    return CheckPlan(checks=tuple(checks), opening_min=opening_min)


def test_bench_time_of_two_causes_by_hand() -> None:
    # Each time four times over, so that nothing is borrowed.
    # 0.6: 20 + (10..50) = 30 40 50 60 70, 0.12 each; 0.4: 35 + (20..60) = 55 65 75 85 95, 0.08 each.
    # Sorted with running weight: 30 .12, 40 .24, 50 .36, 55 .44, 60 .56 (median) ... 85 .92, 95 1.
    time = expected_bench_time(
        planned((0.6, 20, [10, 20, 30, 40, 50] * 4), (0.4, 35, [20, 30, 40, 50, 60] * 4)),
        not_in_notebook=0.0,
        spread=FLAT,
    )
    assert time is not None
    assert time.as_json() == {"median": 60, "low": 30, "high": 95}


def test_bench_time_of_an_unknown_fault_comes_after_every_check() -> None:
    time = expected_bench_time(planned((0.0, 40, [])), not_in_notebook=1.0, spread=FLAT)
    assert time is not None
    assert time.as_json() == {"median": 100, "low": 70, "high": 130}


def test_bench_time_is_unknown_where_no_fix_time_is() -> None:
    nothing = fix_time_spread(minutes(), np.array([], dtype=np.int64))
    assert (
        expected_bench_time(planned((0.5, 5, []), spread=nothing), not_in_notebook=0.5, spread=nothing)
        is None
    )


def test_bench_time_opens_the_set_for_the_repair_where_no_check_did() -> None:
    time = expected_bench_time(planned((1.0, 5, [30] * 20), opening_min=10), not_in_notebook=0.0, spread=FLAT)
    assert time is not None
    assert time.median == 45
    nothing_found = expected_bench_time(
        planned((0.0, 5, []), opening_min=10), not_in_notebook=1.0, spread=FLAT
    )
    assert nothing_found is not None
    assert nothing_found.median == 75


def test_few_fix_times_borrow_the_spread_of_others() -> None:
    values, weights = fix_time_sample(minutes(40, 60), FLAT)
    # Two of twenty parts are the cause's own; the rest is its median 50 spread out by 0.5, 1 and 2, each to
    # the power of the root of 1.5, which is 1.224745: 0.427873, 1 and 2.337141.
    assert values == pytest.approx([40, 60, 21.3937, 50, 116.8571], abs=1e-3)
    assert weights == pytest.approx([0.05, 0.05, 0.3, 0.3, 0.3])
    assert fix_time_sample(minutes(*range(ENOUGH_FIX_TIMES)), FLAT)[0].size == ENOUGH_FIX_TIMES
    assert fix_time_sample(minutes(), FLAT)[0].tolist() == [30, 60, 90]


def test_spread_is_taken_about_each_causes_own_median() -> None:
    spread = fix_time_spread(
        minutes(*[10, 20, 20, 20, 40] * 2, *[100, 200, 200, 200, 400] * 2, 7, np.nan),
        np.array([0] * 10 + [1] * 10 + [2, 2]),
    )
    # The third cause has one time only: it is one of the minutes, and no ratio. 2 to the root of 10/9.
    assert np.sort(spread.ratios) == pytest.approx(
        [2**-1.054093] * 4 + [1] * 12 + [2**1.054093] * 4, abs=1e-6
    )
    assert spread.minutes.tolist() == [7, 10, 20, 40, 100, 200, 400]
    assert spread.weights.sum() == pytest.approx(1)


def test_spread_without_a_frequent_cause_is_taken_about_the_common_median() -> None:
    assert fix_time_spread(minutes(30, 60, 90), np.array([0, 1, 2])).ratios.tolist() == [0.5, 1, 1.5]


def test_spread_is_thinned_without_moving_its_quantiles() -> None:
    times = np.random.default_rng(5).integers(10, 200, size=5000).astype(np.float64)
    spread = fix_time_spread(times, np.zeros(5000, dtype=np.int64))
    assert spread.ratios.size == SPREAD_POINTS
    for share in (0.05, 0.25, 0.5, 0.75, 0.95):
        thinned, full = np.quantile(spread.ratios, share), np.quantile(times / np.median(times), share)
        assert thinned == pytest.approx(full, abs=0.02)


@given(
    st.lists(
        st.tuples(
            st.integers(1, 9), st.integers(0, 60), st.lists(st.integers(5, 90), min_size=20, max_size=25)
        ),
        min_size=1,
        max_size=5,
    ),
    st.integers(0, 9),
)
def test_bench_time_equals_a_slow_mixture(rows: list[tuple[int, int, list[int]]], unknown: int) -> None:
    total = sum(weight for weight, _, _ in rows) + unknown
    in_order = sorted(rows, key=itemgetter(1))
    last = in_order[-1][1]
    slow: list[tuple[int, Fraction]] = [
        (finding + fix, Fraction(weight, total * len(fixes)))
        for weight, finding, fixes in rows
        for fix in fixes
    ]
    slow += [(last + fix, Fraction(unknown, total * 3)) for fix in (30, 60, 90)]
    slow.sort()

    def quantile(share: Fraction) -> int:
        below = Fraction(0)
        for value, weight in slow:
            below += weight
            if below >= share:
                return value
        raise AssertionError("weights do not reach one")

    time = expected_bench_time(
        planned(
            *((weight / total, finding, fixes) for weight, finding, fixes in sorted(rows, key=itemgetter(1)))
        ),
        not_in_notebook=unknown / total,
        spread=FLAT,
    )
    assert time is not None
    expected = [quantile(Fraction(1, 20)), quantile(Fraction(1, 2)), quantile(Fraction(19, 20))]
    assert [time.low, time.median, time.high] == expected


@pytest.mark.parametrize("most", [12, 60])
def test_bench_time_range_holds_for_nine_of_ten_new_jobs(most: int) -> None:
    """Draw causes of few recorded times, and of many: the range must hold what comes next."""
    inside = []
    for seed in range(5):
        rng = np.random.default_rng(seed)
        usual = rng.uniform(20, 90, size=100)
        codes = np.repeat(np.arange(100), rng.integers(1, most, size=100))
        times = np.round(usual[codes] * rng.lognormal(0, 0.35, size=codes.size))
        spread = fix_time_spread(times, codes)
        for code in range(100):
            time = expected_bench_time(
                planned((1.0, 0.0, times[codes == code].tolist()), spread=spread),
                not_in_notebook=0.0,
                spread=spread,
            )
            assert time is not None
            new = np.round(usual[code] * rng.lognormal(0, 0.35, size=200))
            inside.append(np.mean((new >= time.low) & (new <= time.high)))
    assert 0.87 < np.mean(inside) < 0.93
