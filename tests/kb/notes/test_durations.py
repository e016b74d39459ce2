"""Durations: every spelling of bench minutes, and nothing that only looks like one."""

import pytest
from hypothesis import given

from kb.notes.durations import LONGEST_MIN, find_durations, format_minutes, parse_minutes
from tests.kb.made_up_notes import minutes, unhurried


@pytest.mark.parametrize(("said", "expected"), [
    pytest.param("55 min", 55, id="minutes"),
    pytest.param("55", 55, id="bare-number"),
    pytest.param("55m", 55, id="short-unit"),
    pytest.param("1 h 20 min", 80, id="hours-and-minutes"),
    pytest.param("1h20", 80, id="hours-then-bare-minutes"),
    pytest.param("2 hours and 5 minutes", 125, id="in-words"),
    pytest.param("1.5 h", 90, id="half-an-hour-as-decimal"),
    pytest.param("1,5 h", 90, id="decimal-comma"),
    pytest.param("1:20", 80, id="clock"),
    pytest.param("0:05", 5, id="clock-below-an-hour"),
    pytest.param("12.5 min", 13, id="half-a-minute-rounds-up"),
    pytest.param("  55   MIN ", 55, id="blanks-and-capitals"),
    pytest.param("0", 0, id="nothing"),
    pytest.param("half an hour", 30, id="half-an-hour"),
    pytest.param("an hour and a half", 90, id="an-hour-and-a-half"),
    pytest.param("three quarters of an hour", 45, id="three-quarters"),
    pytest.param("two and a half hours", 150, id="two-and-a-half"),
    pytest.param("twenty-five minutes", 25, id="tens-and-units"),
])  # fmt: skip
def test_duration_is_read(said: str, expected: int) -> None:
    assert parse_minutes(said) == expected


# ISO 8601-1:2019, 5.5.2: a duration is P, then T before the time components, each number before its
# designator (from memory; the standard itself was not at hand).
@pytest.mark.parametrize(("said", "expected"), [
    ("PT1H20M", 80), ("PT55M", 55), ("PT2H", 120), ("PT90S", 2), ("pt1h20m", 80), ("PT1.5H", 90), ("PT0M", 0),
])  # fmt: skip
def test_duration_is_read_as_iso_8601(said: str, expected: int) -> None:
    assert parse_minutes(said) == expected


@pytest.mark.parametrize(
    "said",
    [
        "",
        "soon",
        "1:75",
        "1:2",
        "-5",
        "PT",
        "P1D",
        "3 days",
        "1 h 75",
        "55 min 1 h",
        "1 h 2 h",
        "\u0663",
        "1e3",
        "5 %",
    ],
)
def test_duration_refused_says_what_to_write(said: str) -> None:
    with pytest.raises(ValueError, match='write bench minutes as "55 min" or "1 h 20 min"'):
        parse_minutes(said)


def test_duration_has_an_end() -> None:
    assert parse_minutes(str(LONGEST_MIN)) == LONGEST_MIN
    with pytest.raises(ValueError, match="at most 10000 minutes"):
        parse_minutes(str(LONGEST_MIN + 1))


@pytest.mark.parametrize(
    ("count", "written"), [(0, "0 min"), (59, "59 min"), (60, "1 h"), (80, "1 h 20 min")]
)
def test_duration_is_written(count: int, written: str) -> None:
    assert format_minutes(count) == written


@given(minutes)
@unhurried(300)
def test_duration_written_is_read_back(count: int) -> None:
    assert parse_minutes(format_minutes(count)) == count


def test_durations_are_found_in_a_text() -> None:
    found = find_durations("3 blinks, 12.5 V, took an hour and a half, soaked 2 h, 1h10, 1 h 15, 2 h 10 caps")
    assert [minutes for _, minutes in found] == [90, 120, 70, 75, 120]
    assert found[0][0].endswith("took ")


def test_durations_too_long_for_a_bench_are_passed_over() -> None:
    found = find_durations("lamp rated 20000 h, changed in 55 min")
    assert found == [("lamp rated 20000 h, changed in ", 55)]
