"""Trends that do not cry wolf, and what recurs over families."""

from itertools import product

import numpy as np
import pytest

from search.families.trends import FEWEST_TO_TEST, find_trends, holm, recurring, trend_p_value


def slow_p_value(counts: list[int], exposure: list[int]) -> float:
    """Try every way for the cases to fall on the years."""
    shares = [cases / sum(exposure) for cases in exposure]
    observed = sum(year * count for year, count in enumerate(counts))
    at_most = at_least = 0.0
    for draw in product(range(len(counts)), repeat=sum(counts)):
        probability = float(np.prod([shares[year] for year in draw]))
        at_most += probability * (sum(draw) <= observed)
        at_least += probability * (sum(draw) >= observed)
    return min(1.0, 2 * min(at_most, at_least))


@pytest.mark.parametrize(
    ("counts", "exposure"),
    [
        pytest.param([0, 1, 5], [30, 30, 30], id="rising"),
        pytest.param([4, 2, 0], [30, 10, 40], id="falling-uneven"),
        pytest.param([2, 2, 2], [10, 10, 10], id="even"),
        pytest.param([3, 0, 0, 3], [20, 0, 5, 20], id="year-without-cases"),
    ],
)
def test_trend_p_value_equals_every_way_tried(counts: list[int], exposure: list[int]) -> None:
    assert trend_p_value(np.array(counts), np.array(exposure)) == pytest.approx(
        slow_p_value(counts, exposure)
    )


def test_trend_p_value_by_hand() -> None:
    # Five cases all in the second of two equal years: 1/32 in that tail, twice.
    assert trend_p_value(np.array([0, 5]), np.array([50, 50])) == pytest.approx(1 / 16)


def test_trend_p_value_without_a_second_year_says_nothing() -> None:
    assert trend_p_value(np.array([7]), np.array([20])) == 1.0
    assert trend_p_value(np.array([0, 7]), np.array([0, 20])) == 1.0
    assert trend_p_value(np.array([0, 0]), np.array([9, 20])) == 1.0


def test_trends_that_are_none_raise_an_alarm_in_at_most_one_notebook_of_twenty() -> None:
    rng = np.random.default_rng(1979)
    notebooks, alarms = 400, 0
    names = [f"cause {code}" for code in range(40)]
    for _ in range(notebooks):
        shares = rng.dirichlet(np.full(40, 0.5))
        causes = rng.choice(40, size=400, p=shares)
        years = rng.choice([2022, 2023, 2024, 2025, 2026], size=400, p=[0.1, 0.15, 0.2, 0.25, 0.3])
        alarms += any(trend.direction for trend in find_trends(causes, years, names))
    # The bound plus two standard errors of 400 notebooks.
    assert alarms / notebooks <= 0.05 + 2 * (0.05 * 0.95 / notebooks) ** 0.5


def test_a_true_rise_among_many_causes_is_found() -> None:
    rng = np.random.default_rng(3)
    causes, years = rng.integers(0, 40, size=400), rng.integers(2022, 2027, size=400)
    new = np.repeat(40, 20), np.repeat([2024, 2025, 2026], [2, 6, 12])
    trends = find_trends(
        np.concatenate((causes, new[0])), np.concatenate((years, new[1])), [str(code) for code in range(41)]
    )
    assert [(trend.root_cause, trend.direction) for trend in trends if trend.direction] == [("40", "rising")]
    assert trends[0].counts == (0, 0, 2, 6, 12)
    assert trends[0].years == (2022, 2023, 2024, 2025, 2026)
    assert sum(trends[0].totals) == 420


def test_a_true_fall_is_found_and_named_so() -> None:
    causes = np.concatenate((np.zeros(12, dtype=np.int64), np.ones(60, dtype=np.int64)))
    years = np.concatenate((np.full(12, 2022), np.tile([2022, 2023, 2024], 20)))
    directions = {
        trend.root_cause: trend.direction for trend in find_trends(causes, years, ["old", "steady"])
    }
    assert directions["old"] == "falling"


def test_a_busier_shop_is_no_rise() -> None:
    years = np.repeat([2022, 2023, 2024], [10, 40, 160])
    causes = np.tile([0, 1], 105)
    assert [trend.direction for trend in find_trends(causes, years, ["a", "b"])] == ["", ""]


def test_rare_causes_are_not_tested() -> None:
    causes = np.repeat([0, 1], [FEWEST_TO_TEST - 1, FEWEST_TO_TEST])
    years = np.tile([2024, 2025, 2026], 3)
    assert [trend.root_cause for trend in find_trends(causes, years, ["rare", "enough"])] == ["enough"]
    assert find_trends(np.array([], dtype=int), np.array([], dtype=int), []) == ()


def test_holm_by_hand() -> None:
    # Sorted .01 * 4, .02 * 3, .03 * 2, .04 * 1; each at least the one before.
    assert holm([0.04, 0.01, 0.03, 0.02]) == pytest.approx([0.06, 0.04, 0.06, 0.06])
    assert holm([]) == []
    assert holm([0.9, 0.8]) == [1.0, 1.0]


def test_recurring_counts_families_cases_and_fixes() -> None:
    found = recurring(
        np.array([0, 0, 0, 1, 1, -1]),
        np.array([0, 0, 1, 2, -1, 0]),
        np.array([True, False, True, True, True, True]),
        names=["dry joint", "open coil", "unused"],
        family_names=["A", "B", "C"],
    )
    assert [(each.name, each.cases, each.fixed, each.families) for each in found] == [
        ("dry joint", 3, 2, (("A", 2), ("B", 1))),
        ("open coil", 2, 2, (("C", 1),)),
    ]
    assert found[0].share == 0.5
    assert found[0].low < 0.5 < found[0].high
