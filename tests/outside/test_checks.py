"""The order of checks against published and exhaustively tried examples."""

from itertools import permutations

import pytest

from search.planning.checks import Check, CheckPlan, order_checks


def checks_of(probabilities: tuple[float, ...], minutes: tuple[float, ...], inside: str = "") -> list[Check]:
    """Build checks named A, B, ...; inside has one letter a check: 'o' outside, 'i' inside."""
    marks = inside or "o" * len(minutes)
    return [
        Check(root_cause="ABCDE"[i], probability=p, minutes=c, inside=mark == "i")
        for i, (p, c, mark) in enumerate(zip(probabilities, minutes, marks, strict=True))
    ]


def test_two_repairs_with_costs_three_and_two() -> None:
    """Source: cs.stackexchange.com/questions/144646, probabilities .8 and .2, costs 3 and 2."""
    first, second = checks_of((0.8, 0.2), (3, 2))
    assert CheckPlan(checks=(first, second), opening_min=0).expected_minutes == pytest.approx(3.4)
    assert CheckPlan(checks=(second, first), opening_min=0).expected_minutes == pytest.approx(4.4)
    assert order_checks([first, second], opening_min=0).checks == (first, second)


# Constructed; the rule is that of Kadane and Simon 1977 and, with an opening, of Ottosen and Jensen, The Cost
# of Troubleshooting Cost Clusters with Inside Information, arXiv 1203.3502. The costs of the best, the second
# best and the worst of all orders were worked out beforehand; the test tries every order again.
CASES = [
    pytest.param((0.5, 0.3, 0.2), (30, 5, 10), "", 0, "BCA", (27.0, 28.0, 36.5), id="three-free"),
    pytest.param(
        (0.40, 0.25, 0.15, 0.10), (25, 10, 4, 20), "", 0, "CBAD", (31.5, 32.0, 48.5), id="four-sum-below-one"
    ),
    pytest.param(
        (0.30, 0.25, 0.20, 0.15, 0.10), (10, 5, 5, 6, 8), "oiiio", 15, "ABCDE", (28.55, 28.80, 38.8),
        id="one-opening",
    ),
    pytest.param(
        (0.30, 0.40, 0.10, 0.20), (20, 4, 8, 10), "oiio", 10, "BDAC", (28.8, 29.2, 43.6),
        id="partial-prefix",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("probabilities", "minutes", "inside", "opening", "letters", "costs"), CASES)
def test_order_is_the_best_of_all(
    probabilities: tuple[float, ...],
    minutes: tuple[float, ...],
    inside: str,
    opening: float,
    letters: str,
    costs: tuple[float, float, float],
) -> None:
    checks = checks_of(probabilities, minutes, inside)
    plan = order_checks(checks, opening_min=opening)
    assert "".join(check.root_cause for check in plan.checks) == letters
    tried = sorted(
        round(CheckPlan(checks=order, opening_min=opening).expected_minutes or 0.0, 9)
        for order in permutations(checks)
    )
    assert (tried[0], next(cost for cost in tried if cost > tried[0]), tried[-1]) == pytest.approx(costs)
    assert plan.expected_minutes == pytest.approx(costs[0])


@pytest.mark.parametrize(
    ("probabilities", "minutes", "inside", "opening", "order", "cost"),
    [
        pytest.param((0.5, 0.3, 0.2), (30, 5, 10), "", 0, "ABC", 34.5, id="three-by-probability"),
        pytest.param((0.40, 0.25, 0.15, 0.10), (25, 10, 4, 20), "", 0, "ABCD", 36.4, id="four-by-chance"),
        pytest.param((0.40, 0.25, 0.15, 0.10), (25, 10, 4, 20), "", 0, "CBDA", 37.0, id="four-by-cost"),
        pytest.param(
            (0.30, 0.25, 0.20, 0.15, 0.10), (10, 5, 5, 6, 8), "oiiio", 15, "BCADE", 31.55,
            id="opening-ignored",
        ),
    ],
)  # fmt: skip
def test_other_orders_cost_what_is_published(
    probabilities: tuple[float, ...],
    minutes: tuple[float, ...],
    inside: str,
    opening: float,
    order: str,
    cost: float,
) -> None:
    named = {check.root_cause: check for check in checks_of(probabilities, minutes, inside)}
    plan = CheckPlan(checks=tuple(named[each] for each in order), opening_min=opening)
    assert plan.expected_minutes == pytest.approx(cost)
