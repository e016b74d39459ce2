"""Figures carry their unit and as many digits as they deserve."""

import numpy as np
import pytest

from kb.errors import say_count
from search.answering.answer import Advice, CauseAnswer, CauseProfile
from search.answering.knowledge import LIVE
from search.families.case_group import BlinkFigures
from search.planning.checks import Check
from search.stats.intervals import Share
from web.views.wording import (
    group_advice,
    say_about,
    say_against,
    say_blinks,
    say_minutes,
    say_record,
    say_share,
    say_where,
)


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "0 %"),
        (0.004, "under 1 %"),
        (0.4137, "41 %"),
        (0.996, "over 99 %"),
        (1.0, "100 %"),
        (None, "not known"),
    ],
)
def test_share_is_said_in_whole_per_cent(share: float | None, said: str) -> None:
    assert say_share(share) == said


@pytest.mark.parametrize(
    ("minutes", "said"),
    [(17.5, "18 min"), (0.2, "1 min"), (80, "1 h 20 min"), (None, "not known"), (float("nan"), "not known")],
)
def test_minutes_are_said_whole(minutes: float | None, said: str) -> None:
    assert say_minutes(minutes) == said


@pytest.mark.parametrize(
    ("minutes", "said"),
    [(18.5, "18 min"), (21, "20 min"), (63.1, "1 h 5 min"), (86, "1 h 25 min"), (None, "not known")],
)
def test_estimates_are_said_to_five_minutes(minutes: float | None, said: str) -> None:
    assert say_about(minutes) == said


def test_counts_agree_with_their_noun() -> None:
    assert [say_count(1, "case"), say_count(2, "case"), say_count(1200, "repair")] == [
        "1 case",
        "2 cases",
        "1,200 repairs",
    ]


def test_advice_is_gathered_under_its_family() -> None:
    lines = [
        Advice("unplug it", "HV-L2"),
        Advice("keep it dry"),
        Advice("If wet: wait", "HV-L2"),
        Advice("lift"),
    ]
    assert group_advice(lines) == [
        ("", ["keep it dry", "lift"]),
        ("HV-L2", ["unplug it", "If wet: wait"]),
    ]


def cause(
    *,
    cases: int = 18,
    fixed: int = 16,
    time: float | None = 68.0,
    by_family: dict[str, int] | None = None,
    note: str = "",
) -> CauseAnswer:
    return CauseAnswer(
        root_cause="LED strip open circuit",
        probability=0.5,
        codes=(0,),
        rows=np.arange(cases),
        evidence=(),
        describe=lambda: CauseProfile(
            rows=np.arange(cases),
            fixed=fixed,
            fix_time_min=time,
            check=Check(
                root_cause="LED strip open circuit", probability=0.5, minutes=5.0, inside=True, note=note
            ),
            board="",
            proof=(),
            parts=(),
            caution=(),
            by_family=tuple((by_family or {}).items()),
        ),
        explain=lambda cause: ("", ""),
    )


@pytest.mark.parametrize(("note", "said"), [("the only case was not worth fixing", True), (LIVE, False)])
def test_cause_says_of_its_cases_what_its_check_says(note: str, said: bool) -> None:
    """That a check is made on a live set stands beside the check alone."""
    assert say_against(cause(cases=1, fixed=0, note=note)) == (note if said else "")


@pytest.mark.parametrize(
    ("cases", "fixed", "time", "said"),
    [
        (18, 16, 68.0, "usual fix 1 h 10 min; 16 of 18 cases fixed"),
        (2, 2, None, "2 of 2 cases fixed"),
        (1, 1, 50.0, "fixed the one time, in 50 min"),
        (3, 1, 50.0, "fixed once in 3 cases, in 50 min"),
        (1, 0, 35.0, "0 of 1 case fixed; 35 min spent on it"),
        (2, 0, None, "0 of 2 cases fixed"),
    ],
)
def test_record_claims_no_usual_fix_where_there_is_none(
    cases: int, fixed: int, time: float | None, said: str
) -> None:
    assert "; ".join(say_record(cause(cases=cases, fixed=fixed, time=time))) == said


@pytest.mark.parametrize(
    ("by_family", "family", "said"),
    [
        ({"HV-L2": 10, "OS-K5": 8}, "HV-L2", "10 of the 18 in HV-L2"),
        ({"HV-L2": 18}, "HV-L2", ""),
        ({"OS-K5": 12, "TN-S3": 6}, "HV-L2", "never in HV-L2, only in OS-K5, TN-S3"),
        ({"OS-K5": 12, "TN-S3": 6}, "", "seen in OS-K5, TN-S3"),
        ({"A": 9, "B": 4, "C": 3, "D": 1, "E": 1}, "", "seen in A, B, C and 2 more"),
        ({}, "HV-L2", ""),
    ],
)
def test_cause_is_counted_in_its_own_family_and_in_all(
    by_family: dict[str, int], family: str, said: str
) -> None:
    assert say_where(cause(by_family=by_family), family) == said


@pytest.mark.parametrize(
    ("sheet", "causes", "said"),
    [
        (
            "backlight protection",
            (("LED strip open circuit", 6), ("LED strip open", 1)),
            "the service sheet says backlight protection; "
            "of 7 past cases: 6 LED strip open circuit, 1 LED strip open.",
        ),
        (
            "",
            (("IGBT shorted", 1),),
            "the family's note gives it no meaning; of 1 past case: 1 IGBT shorted.",
        ),
        ("panel supply", (), "the service sheet says panel supply; no past case has it."),
    ],
)
def test_blink_count_is_said_by_sheet_and_by_notes(
    sheet: str, causes: tuple[tuple[str, int], ...], said: str
) -> None:
    cases = sum(count for _, count in causes)
    shares = tuple((cause, Share(count=count, total=cases)) for cause, count in causes)
    line = BlinkFigures(pattern="6", service_sheet=sheet, cases=cases, causes=shares, fix_time=None)
    assert say_blinks(line) == said
