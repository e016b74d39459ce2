"""A new write-up that may repeat an earlier case."""

import datetime
from pathlib import Path
from typing import Any

import pytest

from kb.notebook import Notebook
from search.bench import Bench
from web.forms.fill import ASKED_ABOUT_DAYS, find_alike, slips_in

from ..notes import a_note

EARLIER = "20260620-c5pp"


@pytest.mark.parametrize(
    ("fields", "found"),
    [
        pytest.param({}, (EARLIER, False), id="the-same-again"),
        pytest.param({"complaint": "Does not drain & smells of burning!"}, (EARLIER, False), id="typed-anew"),
        pytest.param({"date": "2026-06-24"}, (EARLIER, True), id="the-same-after-four-days"),
        pytest.param({"root_cause": "pump winding burnt"}, (EARLIER, True), id="same-complaint-other-cause"),
        pytest.param({"complaint": "loud hum, water stays"}, (EARLIER, True), id="same-cause-other-words"),
        pytest.param(
            {"root_cause": "door lock broken", "complaint": "door will not shut"}, None, id="another-fault"
        ),
        pytest.param({"model": "TW-8W2"}, None, id="another-model"),
        pytest.param({"complaint": "loud hum, water stays", "date": "2027-06-20"}, None, id="a-year-later"),
        pytest.param(
            {"complaint": "loud hum, water stays", "comeback_of": EARLIER}, None, id="already-said-to-be-one"
        ),
    ],
)
def test_alike_asks_about_doubles_and_comebacks(
    root: Path, fields: dict[str, Any], found: tuple[str, bool] | None
) -> None:
    alike = find_alike(Bench(Notebook(root)), a_note(**fields))
    assert [(each.earlier.case, each.comeback) for each in alike] == ([found] if found else [])


def test_alike_ends_with_the_days_in_which_a_set_comes_back(root: Path) -> None:
    assert ASKED_ABOUT_DAYS == 180
    bench = Bench(Notebook(root))
    other = {"complaint": "loud hum, water stays"}
    assert find_alike(bench, a_note(**other, date="2026-12-17"))
    assert not find_alike(bench, a_note(**other, date="2026-12-18"))


@pytest.mark.parametrize(
    ("fields", "asked"),
    [
        pytest.param({"date": "2026-07-20"}, "", id="a-month-after-the-newest-case"),
        pytest.param({"date": "2062-06-21"}, "Is the date right? 2062-06-21", id="years-ahead"),
        pytest.param(
            {"model": "HV 43L2", "chassis_family": "HV-L3"},
            "Is the family right? HV 43L2 is in the note of HV-L2.", id="family-mistyped",
        ),
        pytest.param({"model": "HV-43L2", "chassis_family": "HV-L2"}, "", id="family-of-the-model"),
        pytest.param({"model": "HV-99X9", "chassis_family": "HV-L3"}, "", id="a-new-family"),
    ],
)  # fmt: skip
def test_slip_of_date_or_family_is_asked_about(root: Path, fields: dict[str, Any], asked: str) -> None:
    """A computer whose clock is slow goes by the newest case."""
    said = slips_in(Bench(Notebook(root)), a_note(**fields), datetime.date(2025, 1, 1))
    assert said == ([asked] if asked else [])
