"""The order of checks: the best there is, the opening paid once, assumed times marked."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from search.families.case_group import CaseGroup, statistics_of
from search.planning.checks import (
    Check,
    CheckPlan,
    check_minutes,
    is_inside,
    is_live,
    minutes_in_words,
    order_checks,
)
from tests.search.small_shop import REPAIRS, repair
from tests.search.tables import table_from_cases


@st.composite
def checks_drawn(draw: st.DrawFn) -> list[Check]:
    count = draw(st.integers(1, 6))
    shares = draw(st.lists(st.integers(0, 20), min_size=count, max_size=count))
    total = max(sum(shares) + draw(st.integers(0, 10)), 1)
    return [
        Check(
            root_cause=str(number),
            probability=share / total,
            minutes=draw(st.integers(0, 30)),
            inside=draw(st.booleans()),
        )
        for number, share in enumerate(shares)
    ]


@settings(max_examples=200, deadline=None)
@given(checks=checks_drawn(), opening=st.integers(0, 40))
def test_order_equals_the_cheapest_of_all_orders(checks: list[Check], opening: int) -> None:
    cheapest = min(
        CheckPlan(checks=order, opening_min=opening).expected_minutes or 0.0 for order in permutations(checks)
    )
    plan = order_checks(checks, opening_min=opening)
    assert sorted(each.root_cause for each in plan.checks) == [each.root_cause for each in checks]
    assert plan.expected_minutes == pytest.approx(cheapest)
    assert sum(plan.step_min) == sum(c.minutes for c in checks) + opening * any(c.inside for c in checks)


def check(name: str, probability: float, minutes: float, *, inside: bool = True) -> Check:
    return Check(root_cause=name, probability=probability, minutes=minutes, inside=inside)


def test_order_checks_pays_the_opening_once_and_only_inside() -> None:
    order = order_checks(
        [check("fuse", 0.2, 2), check("remote", 0.3, 3, inside=False), check("joint", 0.4, 4)], opening_min=10
    )
    # 0.3 / 3 is 0.1 a minute; joint and fuse together (0.6) / (10 + 6) less, so the remote comes first.
    assert [each.root_cause for each in order.checks] == ["remote", "joint", "fuse"]
    assert order.step_min == [3, 14, 2]
    assert order.expected_minutes == pytest.approx(3 + 14 * 0.7 + 2 * 0.3)


def test_order_checks_without_checks_costs_nothing() -> None:
    order = order_checks([], opening_min=10)
    assert (order.checks, order.expected_minutes, order.step_min) == ((), None, [])


def test_order_checks_breaks_ties_by_probability_then_as_given() -> None:
    order = order_checks([check("a", 0.1, 5), check("b", 0.2, 10), check("c", 0.1, 5)], opening_min=0)
    assert [each.root_cause for each in order.checks] == ["b", "a", "c"]


@pytest.mark.parametrize(
    ("said", "inside"),
    [
        pytest.param("", True, id="nothing-recorded"),
        pytest.param("Q801 drain to source 0.4 ohm with the set unplugged", True, id="part-place"),
        pytest.param("12 V rail missing at CN801", True, id="connector-place"),
        pytest.param("plug on the main board corroded", True, id="plug-on-a-board"),
        pytest.param("ribbon cable reseated", True, id="ribbon-cable"),
        pytest.param("inverter heatsink stone cold", True, id="heatsink"),
        pytest.param("back off, both mains lead joints cracked", True, id="mains-lead-inside"),
        pytest.param("bulging capacitors seen", True, id="no-hint-is-inside"),
        pytest.param("unplugged, cold check across the mains plug: open circuit", False, id="at-the-plug"),
        pytest.param("plug fuse blown", False, id="plug-fuse"),
        pytest.param("tried another HDMI cable", False, id="another-cable"),
        pytest.param("factory reset from the service menu", False, id="reset-in-menu"),
        pytest.param("works by remote control, keys dead", False, id="remote"),
        pytest.param("inlet filter full of sand", False, id="inlet-filter"),
        pytest.param("listened with the lid closed", False, id="set-closed"),
        pytest.param("knock on the closed lid over RL701 at low volume", False, id="closed-lid-over-a-relay"),
        pytest.param("magnet on the pan bottoms", False, id="magnet-on-a-pan"),
        pytest.param("torch at a flat angle across the screen", False, id="torch-on-screen"),
        pytest.param("headphones clean, so speaker", False, id="headphones"),
        pytest.param("had her read a thermometer beside it", False, id="thermometer"),
        pytest.param("turn the fan with a finger through the grille", False, id="through-the-grille"),
        pytest.param("trap open over a tray, feel the impeller", False, id="drain-trap"),
        pytest.param("pull the thin hose off the level sensor", True, id="hose-inside"),
        pytest.param(
            "push the HDMI plug, covers on. Then shield off, legs of CN402", True, id="opened-later"
        ),
        pytest.param("press the panel ribbon at its plug with a plastic stick", True, id="ribbon"),
    ],
)
def test_is_inside_calls_outside_only_what_says_so(said: str, inside: bool) -> None:
    assert is_inside(said) is inside


def test_look_is_enough_where_the_fault_is_seen_from_outside() -> None:
    assert not is_inside("look", "glass top")
    assert is_inside("look", "power supply")


@pytest.mark.parametrize(
    ("said", "minutes"),
    [
        pytest.param("ran it for an hour", 60.0, id="an-hour"),
        pytest.param("lights, then goes out after eleven minutes", 11.0, id="number-word"),
        pytest.param("10 min cold, then 1,5 h warm", 90.0, id="longest-of-two"),
        pytest.param("half an hour on a white picture", 30.0, id="half-an-hour"),
        pytest.param("after a ten-minute soak, or a fifteen-minute one", 15.0, id="hyphen"),
        pytest.param("water test, 1 l 60 s, +3.9 C", 0.0, id="seconds-are-never-long"),
        pytest.param("lamp rated 20000 h, out of the set", 0.0, id="no-time-at-the-bench"),
        pytest.param("12 V at 3 m of lead, 0.4 ohm", 0.0, id="no-time"),
        pytest.param("", 0.0, id="nothing"),
    ],
)
def test_minutes_in_words_are_the_longest_time_named(said: str, minutes: float) -> None:
    assert minutes_in_words(said) == minutes


def test_is_inside_believes_a_board_that_is_outside() -> None:
    assert not is_inside("open circuit on the meter", "mains lead")
    assert is_inside("open circuit at CN1", "mains lead")
    assert is_inside("open circuit on the meter", "power supply")


@pytest.mark.parametrize(
    ("recorded", "of_cause", "check", "minutes"),
    [
        pytest.param([3, np.nan], 7.0, "", (3, False), id="own"),
        pytest.param([np.nan], 7.0, "", (7, False), id="elsewhere-in-the-notebook"),
        pytest.param([], np.nan, "", (8, True), id="as-other-checks"),
        pytest.param([3], 7.0, "run it for an hour", (60, True), id="its-own-words-say-longer"),
    ],
)
def test_minutes_are_the_recorded_ones_else_assumed(
    recorded: list[float], of_cause: float, check: str, minutes: tuple[float, bool]
) -> None:
    found = check_minutes(check, np.array(recorded, np.float64), of_cause=of_cause, usual=8.0)
    assert found == minutes


def test_usual_minutes_are_the_notebooks_or_ten() -> None:
    repairs = [
        repair(
            f"2024010{at}-aaa{at}",
            {**REPAIRS["20240110-aaa1"], "check_time": time, "root_cause": f"fault {at}"},
        )
        for at, time in enumerate(["6 min", "8 min", "", "20 min"], start=1)
    ]
    known = statistics_of(table_from_cases(repairs))
    assert known.usual_check_min == 8
    assert np.array_equal(known.check_min, [6, 8, np.nan, 20], equal_nan=True)
    assert statistics_of(table_from_cases(repairs[2:3])).usual_check_min == 10


@pytest.mark.parametrize(
    ("board", "parts", "opened"),
    [("power supply", ["Q801"], True), ("mains lead", ["mains lead"], False), ("power supply", [], False)],
)
def test_part_inside_needs_the_set_open_and_one_outside_does_not(
    board: str, parts: list[str], opened: bool
) -> None:
    cases = CaseGroup(table_from_cases([repair(*each) for each in REPAIRS.items()]))
    assert cases.check(0, 0.5, says="look", board=board, parts=parts).fixed_inside == opened


@pytest.mark.parametrize(("check", "live"), [
    ("Back off and running, CN902 wriggled with a long dry stick", True),
    ("flat cable pressed at CT1, set running", True),
    ("press the panel ribbon at its plug while the picture is on", True),
    ("glass on CN902 joints, ring round pin 1", False),
    ("live and neutral to earth at 500 V, heater tags off", False),
    ("press along the bezel from outside while the picture is on", False),
])  # fmt: skip
def test_check_inside_a_set_that_is_on_is_live_work(check: str, live: bool) -> None:
    assert is_live(check) is live
