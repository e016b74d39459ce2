"""The families in JSON: what DESIGN settles is there, and every number is the slow script's."""

from html import unescape
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from search.bench import Bench
from tests.search.families.test_summaries import assert_equal
from tests.search.family_slow import DEMO_FAMILIES, SlowNotebook
from web.app import create_app


@pytest.fixture(scope="module")
def demo(demo_bench: Bench) -> Flask:
    return create_app(demo_bench, testing=True)


def answer(app: Flask, address: str) -> dict[str, Any]:
    response = app.test_client().get(address)
    assert response.status_code == 200
    body: dict[str, Any] = response.get_json()
    return body


@pytest.mark.parametrize("family", DEMO_FAMILIES)
@pytest.mark.parametrize(
    ("query", "cut"),
    [
        pytest.param("", {}, id="all"),
        pytest.param("?outcome=not+fixed", {"outcome": "not fixed"}, id="not-fixed"),
        pytest.param("?model=HV-43L2", {"model": "HV-43L2"}, id="model"),
        pytest.param("?since=2025", {"since": "2025-01-01"}, id="since"),
    ],
)
def test_family_answers_the_slow_figures(
    demo: Flask, slow_demo: SlowNotebook, family: str, query: str, cut: dict[str, str]
) -> None:
    ours = answer(demo, f"/api/families/{family}{query}")
    ours["checks"] = [check["root_cause"] for check in ours["checks"]]
    assert_equal(ours, slow_demo.figures(family, **cut))


def test_family_answers_with_the_settled_fields(demo: Flask) -> None:
    body = answer(demo, "/api/families/HV-L2")
    assert {
        "chassis_family", "device", "make", "models", "cases", "fixed", "causes", "blinks", "before_power",
        "tell_owner", "caution",
    } <= body.keys()  # fmt: skip
    assert {
        "root_cause", "cases", "share", "share_low", "share_high", "fix_time_median_min", "fixed",
        "comeback_90_days",
    } <= body["causes"][0].keys()  # fmt: skip
    assert {"pattern", "service_sheet", "causes"} <= body["blinks"][0].keys()
    assert body["models"] == ["HV-43L2", "HV-49L2", "HV-55L2*"]
    assert body["caution_says"].keys() == set(body["caution"])


def test_family_tells_the_owner_what_its_hazards_ask_for_as_on_the_page(demo: Flask) -> None:
    told = answer(demo, "/api/families/BW-M7")["tell_owner"]
    assert [line for line in told if "cover off" in line]  # of the caution; the note does not say it
    page = unescape(demo.test_client().get("/families/BW-M7").text)
    assert [line for line in told if line not in page] == []


def test_families_lists_every_family(demo: Flask, slow_demo: SlowNotebook) -> None:
    lines = answer(demo, "/api/families")["families"]
    assert sorted(line["chassis_family"] for line in lines) == slow_demo.families()
    for line in lines:
        figures = slow_demo.figures(line["chassis_family"])
        assert (line["cases"], line["fixed"]) == (figures["cases"], figures["fixed"])
        assert line["fix_time_median_min"] == figures["fix_time_median_min"]


def test_families_can_be_found(demo: Flask) -> None:
    found = answer(demo, "/api/families?find=hv43")["families"]
    assert [line["chassis_family"] for line in found] == ["HV-L2"]


def test_weak_points_answer_every_tested_cause(demo: Flask, slow_demo: SlowNotebook) -> None:
    body = answer(demo, "/api/weak-points")
    assert body["cases"] == len(slow_demo.notes)
    often = {name for name, notes in slow_demo.groups(slow_demo.notes) if len(notes) >= 5}
    assert {trend["root_cause"] for trend in body["trends"]} == often


@pytest.mark.parametrize("said", ["HV-43L2", "hv-l2"])
def test_family_is_known_by_its_models(demo: Flask, said: str) -> None:
    assert answer(demo, f"/api/families/{said}")["chassis_family"] == "HV-L2"


def test_family_whose_name_no_path_carries_is_asked_for_by_name(client: FlaskClient, root: Path) -> None:
    (root / "families" / "odd.md").write_text(
        '---\nchassis_family: "a//b"\ndevice: radio\n---\n', encoding="utf-8"
    )
    body = client.get("/api/families", query_string={"name": "a//b"}).get_json()
    assert (body["chassis_family"], body["cases"], body["causes"]) == ("a//b", 0, [])


def test_unknown_family_is_an_error_that_helps(demo: Flask) -> None:
    response = demo.test_client().get("/api/families/HV-L3")
    assert response.status_code == 404
    assert response.get_json()["error"]["message"] == "No family is called HV-L3; did you mean HV-L2?"


def test_slice_that_cannot_be_read_is_refused_with_its_fields(demo: Flask) -> None:
    response = demo.test_client().get("/api/families/HV-L2?since=lately&outcome=mended")
    assert response.status_code == 422
    assert response.get_json()["error"]["fields"].keys() == {"since", "outcome"}
