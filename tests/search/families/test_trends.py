"""Trends that do not cry wolf, and what recurs over families."""

import datetime
from collections.abc import Sequence

import numpy as np
import pytest

from kb.notes.case import CaseNote
from search.families.case_group import CaseGroup
from search.families.trends import FEWEST_TO_TEST, Trend, change_p_value, find_trends, weak_points
from tests.search.families.test_summaries import case
from tests.search.tables import table_from_cases

TEMPLATE = case(1, "2026-01-05")


def cases_of(causes: Sequence[str], days: Sequence[datetime.date], **changes: object) -> list[CaseNote]:
    return [
        TEMPLATE.model_copy(update={"case": f"x{i}", "date": day, "root_cause": cause, **changes})
        for i, (cause, day) in enumerate(zip(causes, days, strict=True))
    ]


def trends_of(causes: Sequence[str], days: Sequence[datetime.date]) -> dict[str, Trend]:
    found = find_trends(CaseGroup(table_from_cases(cases_of(causes, days))))
    return {trend.root_cause: trend for trend in found}


def year(number: int) -> datetime.date:
    return datetime.date(number, 6, 1)


def test_change_p_value_by_hand() -> None:
    # Five cases all in the recent half: 1/32 in that tail, twice.
    assert change_p_value(np.array([5]), np.array([5]), 0.5) == pytest.approx([1 / 16])


def test_notebook_of_one_year_shows_no_change() -> None:
    assert trends_of(["fuse open"] * 7, [year(2026)] * 7)["fuse open"].direction == ""


def test_no_change_raises_an_alarm_in_at_most_one_notebook_of_twenty() -> None:
    rng = np.random.default_rng(1979)
    notebooks, alarms = 4000, 0
    for _ in range(notebooks):
        shares = rng.dirichlet(np.full(40, 0.5))
        causes, recent = rng.choice(40, size=400, p=shares), rng.random(400) < 0.3
        cases = np.bincount(causes, minlength=40)
        tested = cases >= FEWEST_TO_TEST
        late = np.bincount(causes[recent], minlength=40)
        p_values = change_p_value(late[tested], cases[tested], float(recent.mean()))
        alarms += bool(p_values.min() * np.count_nonzero(tested) <= 0.05)
    # The bound plus two standard errors of as many notebooks.
    assert alarms / notebooks <= 0.05 + 2 * (0.05 * 0.95 / notebooks) ** 0.5


def test_shop_of_a_few_hundred_repairs_finds_a_true_rise() -> None:
    rng = np.random.default_rng(3)
    causes = [f"cause {code}" for code in rng.integers(0, 40, size=300)]
    days = [year(int(each)) for each in rng.choice([2023, 2024, 2025, 2026], size=300)]
    found = trends_of([*causes, *["new fault"] * 9], [*days, year(2024), *[year(2026)] * 8])
    assert [name for name, trend in found.items() if trend.direction] == ["new fault"]
    rise = found["new fault"]
    assert (rise.direction, rise.recent, rise.counts) == ("rising", 8, (0, 1, 0, 8))
    assert rise.years == (2023, 2024, 2025, 2026)
    assert sum(rise.totals) == 309


def test_a_true_fall_is_found_and_named_so() -> None:
    causes = ["old"] * 12 + ["steady"] * 60
    days = [year(2024)] * 12 + [year(number) for number in (2024, 2025)] * 30
    assert trends_of(causes, days)["old"].direction == "falling"


def test_a_busier_shop_is_no_rise() -> None:
    days = [year(2024)] * 10 + [year(2025)] * 40 + [year(2026)] * 160
    found = trends_of(["a", "b"] * 105, days)
    assert [trend.direction for trend in found.values()] == ["", ""]


def test_rare_causes_are_not_tested() -> None:
    causes = ["rare"] * (FEWEST_TO_TEST - 1) + ["enough"] * FEWEST_TO_TEST
    days = [year(number) for number in (2024, 2025, 2026)] * 3
    assert set(trends_of(causes, days)) == {"enough"}
    assert find_trends(CaseGroup(table_from_cases([]))) == ()


def test_threshold_allows_for_the_number_of_causes_tested() -> None:
    causes = ["one"] * 6 + ["two"] * 6
    found = trends_of(causes, [year(2024), *[year(2026)] * 5, *[year(2024)] * 5, year(2026)])
    assert all(trend.adjusted == min(1, 2 * trend.p_value) for trend in found.values())


def test_weak_points_count_families_cases_and_fixes() -> None:
    notes = cases_of(["dry joint"] * 3 + ["open coil"] * 2, [year(2026)] * 5)
    families = ["A", "A", "B", "C", "C"]
    notes = [
        note.model_copy(update={"chassis_family": family})
        for note, family in zip(notes, families, strict=True)
    ]
    notes[1] = case(9, "2026-01-05", chassis_family="A", root_cause="dry joint", outcome="not fixed")
    found = weak_points(table_from_cases(notes))
    (joint,) = found.causes
    assert (joint.name, joint.families) == ("dry joint", (("A", 2), ("B", 1)))
    assert (joint.share.count, joint.share.total, joint.success.count) == (3, 5, 2)
    line = joint.as_json()
    assert line["low"] < line["share"] < line["high"]
    assert line["share"] == 3 / 5
