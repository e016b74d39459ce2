"""Comebacks: what counts, what is censored, and what cannot be said yet."""

import pytest

from search.stats.intervals import comeback_rate, wilson_interval


def test_comeback_rate_counts_the_censored_only_while_they_are_watched() -> None:
    # Ten repairs; one back after 20 days while ten were watched; one back after 40 days while eight were.
    days = [20, 30, 40, *[200] * 7]
    rate = comeback_rate(days, [True, False, True, *[False] * 7])
    assert rate.rate == pytest.approx(1 - 9 / 10 * 7 / 8)
    assert (rate.repairs, rate.comebacks, rate.still_followed) == (10, 2, 7)
    assert rate.low is not None
    assert rate.high is not None
    assert rate.low < rate.rate < rate.high


def test_comeback_rate_leaves_out_comebacks_after_the_span() -> None:
    rate = comeback_rate([91, 200, 200], [True, False, False])
    assert (rate.rate, rate.comebacks, rate.still_followed) == (0.0, 0, 3)


def test_comeback_rate_without_comebacks_still_has_an_upper_bound() -> None:
    rate = comeback_rate([100] * 8 + [10] * 2, [False] * 10)
    assert (rate.rate, rate.low, rate.high) == (0.0, *wilson_interval(0, 8))


def test_comeback_rate_of_all_back_still_has_a_lower_bound() -> None:
    rate = comeback_rate([5, 6, 7], [True] * 3)
    assert (rate.rate, rate.low, rate.high) == (1.0, *wilson_interval(3, 3))


@pytest.mark.parametrize(
    ("days", "came"),
    [
        pytest.param([], [], id="no-repair"),
        pytest.param([30, 60], [False, False], id="all-too-recent"),
        pytest.param([30, 60], [True, False], id="last-one-too-recent"),
    ],
)
def test_comeback_rate_is_unknown_while_none_was_followed_so_long(days: list[int], came: list[bool]) -> None:
    rate = comeback_rate(days, came)
    assert (rate.rate, rate.low, rate.high) == (None, None, None)
