"""The order of checks against published and exhaustively tried examples."""

from itertools import permutations

import pytest

from search.planning.checks import Action, Check, best_order, expected_cost, order_checks


def actions_of(
    probabilities: tuple[float, ...], minutes: tuple[float, ...], clusters: str = ""
) -> list[Action]:
    """Build actions; clusters has one letter an action: '-' free, 'x' the first cluster, 'y' the second."""
    marks = clusters or "-" * len(minutes)
    places = {"-": None, "x": 0, "y": 1}
    return [
        Action(probability=p, minutes=c, cluster=places[mark])
        for p, c, mark in zip(probabilities, minutes, marks, strict=True)
    ]


def all_costs(actions: list[Action], opening_min: tuple[float, ...]) -> list[float]:
    return sorted(
        round(expected_cost(actions, order, opening_min=opening_min), 9)
        for order in permutations(range(len(actions)))
    )


def test_two_repairs_with_costs_three_and_two() -> None:
    """Source: cs.stackexchange.com/questions/144646, probabilities .8 and .2, costs 3 and 2."""
    actions = actions_of((0.8, 0.2), (3, 2))
    assert expected_cost(actions, [0, 1]) == pytest.approx(3.4)
    assert expected_cost(actions, [1, 0]) == pytest.approx(4.4)
    assert best_order(actions) == [0, 1]


# Constructed; the rule is that of Kadane and Simon 1977 and, for clusters, of Ottosen and Jensen, The Cost of
# Troubleshooting Cost Clusters with Inside Information, arXiv 1203.3502. The costs of the best, the second
# best and the worst of all orders were worked out beforehand; the test tries every order again.
CASES = [
    pytest.param((0.5, 0.3, 0.2), (30, 5, 10), "", (), "BCA", (27.0, 28.0, 36.5), id="three-free"),
    pytest.param(
        (0.40, 0.25, 0.15, 0.10), (25, 10, 4, 20), "", (), "CBAD", (31.5, 32.0, 48.5), id="four-sum-below-one"
    ),
    pytest.param(
        (0.30, 0.25, 0.20, 0.15, 0.10), (10, 5, 5, 6, 8), "-xxx-", (15,), "ABCDE", (28.55, 28.80, 38.8),
        id="one-cluster",
    ),
    pytest.param(
        (0.35, 0.20, 0.20, 0.15, 0.10), (6, 5, 10, 2, 4), "xxyy-", (12, 6), "EABDC", (27.75, 27.85, 35.5),
        id="two-clusters",
    ),
    pytest.param(
        (0.30, 0.40, 0.10, 0.20), (20, 4, 8, 10), "-xx-", (10,), "BDAC", (28.8, 29.2, 43.6),
        id="partial-prefix",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("probabilities", "minutes", "clusters", "opening", "letters", "costs"), CASES)
def test_order_is_the_best_of_all(
    probabilities: tuple[float, ...],
    minutes: tuple[float, ...],
    clusters: str,
    opening: tuple[float, ...],
    letters: str,
    costs: tuple[float, float, float],
) -> None:
    actions = actions_of(probabilities, minutes, clusters)
    order = best_order(actions, opening_min=opening)
    assert "".join("ABCDE"[i] for i in order) == letters
    tried = all_costs(actions, opening)
    assert (tried[0], next(cost for cost in tried if cost > tried[0]), tried[-1]) == pytest.approx(costs)
    assert expected_cost(actions, order, opening_min=opening) == pytest.approx(costs[0])


@pytest.mark.parametrize(
    ("probabilities", "minutes", "clusters", "opening", "order", "cost"),
    [
        pytest.param((0.5, 0.3, 0.2), (30, 5, 10), "", (), "ABC", 34.5, id="three-by-probability"),
        pytest.param((0.40, 0.25, 0.15, 0.10), (25, 10, 4, 20), "", (), "ABCD", 36.4, id="four-by-chance"),
        pytest.param((0.40, 0.25, 0.15, 0.10), (25, 10, 4, 20), "", (), "CBDA", 37.0, id="four-by-cost"),
        pytest.param(
            (0.30, 0.25, 0.20, 0.15, 0.10), (10, 5, 5, 6, 8), "-xxx-", (15,), "BCADE", 31.55,
            id="one-cluster-opening-ignored",
        ),
        pytest.param(
            (0.35, 0.20, 0.20, 0.15, 0.10), (6, 5, 10, 2, 4), "xxyy-", (12, 6), "DABEC", 29.0,
            id="two-clusters-opening-ignored",
        ),
    ],
)  # fmt: skip
def test_other_orders_cost_what_is_published(
    probabilities: tuple[float, ...],
    minutes: tuple[float, ...],
    clusters: str,
    opening: tuple[float, ...],
    order: str,
    cost: float,
) -> None:
    actions = actions_of(probabilities, minutes, clusters)
    assert expected_cost(actions, ["ABCDE".index(c) for c in order], opening_min=opening) == pytest.approx(
        cost
    )


@pytest.mark.parametrize(
    ("probabilities", "minutes", "inside", "opening", "letters", "expected", "naive"),
    [
        pytest.param((0.8, 0.2), (3, 2), "ii", 0, "12", 3.4, 3.4, id="two"),
        pytest.param((0.5, 0.3, 0.2), (30, 5, 10), "iii", 0, "231", 27.0, 34.5, id="three"),
        pytest.param((0.40, 0.25, 0.15, 0.10), (25, 10, 4, 20), "iiii", 0, "3214", 31.5, 36.4, id="four"),
        pytest.param((0.30, 0.40, 0.10, 0.20), (20, 4, 8, 10), "oiio", 10, "2413", 28.8, 29.8, id="opening"),
    ],
)
def test_order_of_checks_gives_expected_and_naive_minutes(
    probabilities: tuple[float, ...],
    minutes: tuple[float, ...],
    inside: str,
    opening: float,
    letters: str,
    expected: float,
    naive: float,
) -> None:
    """The last row's naive cost by hand: B 10 + 4, then A 20 * .6, D 10 * .3, C 8 * .1, together 29.8."""
    checks = [
        Check(root_cause=str(i + 1), probability=p, minutes=c, inside=mark == "i")
        for i, (p, c, mark) in enumerate(zip(probabilities, minutes, inside, strict=True))
    ]
    order = order_checks(checks, opening_min=opening)
    assert "".join(check.root_cause for check in order.checks) == letters
    assert order.expected_minutes == pytest.approx(expected)
    assert order.naive_minutes == pytest.approx(naive)
