"""What the write-up form fills in by itself."""

import datetime
from pathlib import Path
from typing import Any

import pytest

from kb.notebook import Notebook
from kb.notes.rendering import render_markdown
from search.bench import Bench
from web.forms.fill import checks_done, from_line, help_with
from web.forms.note_form import CASE_FORM

TODAY = datetime.date(2026, 7, 1)


@pytest.fixture
def bench(root: Path) -> Bench:
    return Bench(Notebook(root), look_again_s=0)


def helped(bench: Bench, **typed: str) -> dict[str, Any]:
    return help_with(bench, typed, TODAY)


def test_one_line_becomes_a_form_to_confirm(bench: Bench) -> None:
    blank = CASE_FORM.empty(date="2026-07-01", outcome="fixed")
    texts, look = from_line(bench, "HV-43L2 3 blinks, Q801 gone, 55 min", blank)
    wanted = {
        "model": "HV-43L2", "chassis_family": "HV-L2", "device": "LED TV", "make": "Halvern", "blinks": "3",
        "root_cause": "PFC MOSFET shorted", "parts": "Q801", "fix_time": "55 min", "outcome": "fixed",
        "board": "power supply", "date": "2026-07-01",
    }  # fmt: skip
    assert {name: texts[name] for name in wanted} == wanted
    assert {"root_cause", "symptom", "board"} <= set(look)
    assert "model" not in look
    assert texts["body"] == "HV-43L2 3 blinks, Q801 gone, 55 min"  # nothing typed is lost


@pytest.mark.parametrize(
    ("model", "family", "says"),
    [
        pytest.param("hv 43l2", "HV-L2", "HV-L2: Halvern LED TV.", id="exact"),
        pytest.param("HV-43K2", "HV-L2", "The nearest family is HV-L2. Read the label again.", id="nearest"),
        pytest.param("ZZ-1", None, None, id="unknown"),
    ],
)
def test_model_gives_the_set_and_says_how_sure(
    bench: Bench, model: str, family: str | None, says: str | None
) -> None:
    found = helped(bench, model=model)
    assert found["fill"].get("chassis_family") == family
    assert found["says"].get("model") == says


def test_complaint_gives_blinks_and_symptoms(bench: Bench) -> None:
    fill = helped(bench, complaint="HV-43L2 is dead and blinks twice")["fill"]
    assert (fill["blinks"], fill["chassis_family"]) == ("2", "HV-L2")
    assert "no power" in fill["symptom"].split(", ")


def test_symptoms_of_the_complaint_are_offered_beside_what_was_typed(bench: Bench) -> None:
    found = helped(bench, complaint="it is dead", symptom="smells")
    assert found["offers"]["symptom"] == ["no power"]


@pytest.mark.parametrize(
    ("typed", "says", "offered"),
    [
        pytest.param("PFC MOSFET shorted", "In the notebook ({}).", None, id="known"),
        pytest.param("PFC mosfets short", "This looks like “PFC MOSFET shorted” ({}).", True, id="alike"),
        pytest.param("gnawed by a rabbit", None, None, id="new"),
    ],
)
def test_cause_takes_the_name_it_has(
    bench: Bench, typed: str, says: str | None, offered: bool | None
) -> None:
    found = helped(bench, root_cause=typed, chassis_family="HV-L2")
    assert found["says"].get("root_cause") == (says and says.format("2 cases"))
    assert found["offers"].get("root_cause") == (["PFC MOSFET shorted"] if offered else None)
    if says:
        assert found["offers"]["board"] == ["power supply"]
        assert found["offers"]["parts"] == ["Q801 20N60C3, R812 10R"]
        assert found["offers"]["proof"] == ["two hours on a test picture"]


def test_comeback_is_noticed_while_typing(bench: Bench) -> None:
    found = helped(
        bench, model="TW-7W2", chassis_family="TN-W2", complaint="does not drain and smells burning"
    )
    assert [(each["case"], each["comeback"]) for each in found["alike"]] == [("20260620-c5pp", True)]


def test_another_fault_is_no_comeback(bench: Bench) -> None:
    assert helped(bench, chassis_family="TN-W2", complaint="door will not open")["alike"] == []


def test_checks_done_are_a_table_in_their_order(bench: Bench) -> None:
    text = checks_done(
        bench.knowledge,
        "HV-L2",
        ["backlight string open", "mains | fuse"],
        {"backlight string open": "138 V", "PFC MOSFET shorted": "0.3 ohm"},
        "PFC MOSFET shorted",
    )
    rows = [line for line in text.splitlines() if line.startswith("|")][2:]
    assert [row.split(" | ")[1] for row in (rows[0], rows[2])] == ["138 V", "0.3 ohm"]
    assert rows[0].startswith("| strip voltage climbs, then collapses |")
    assert rows[2].endswith("PFC MOSFET shorted: it was this |")
    # GitHub Flavored Markdown, "Tables": "\|" is a bar within a cell.
    html = str(render_markdown(text))
    assert html.count("<tr>") == 4
    assert html.count("<td>") == 9
    assert "mains | fuse: not it" in html


def test_no_checks_make_no_table(bench: Bench) -> None:
    assert checks_done(bench.knowledge, "HV-L2", [], {}, "PFC MOSFET shorted") == ""


@pytest.mark.parametrize("typed", ["dead, blinking standby light", "dead; blinking standby light",
                                   "dead\nblinking standby light\n"])  # fmt: skip
def test_symptoms_are_compared_however_the_box_parts_them(bench: Bench, typed: str) -> None:
    said = {"chassis_family": "HV-L2", "root_cause": "PFC MOSFET shorted", "symptom": typed}
    found = help_with(bench, said, datetime.date(2026, 3, 19))["alike"]
    assert [(each["case"], each["comeback"]) for each in found] == [("20260318-k7f2", False)]
