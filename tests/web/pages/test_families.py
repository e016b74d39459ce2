"""The family pages: every number as a slow script counts it, in the order in which a bench needs them."""

import re
from collections import Counter
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient

from kb.notebook import Notebook
from search.bench import Bench
from tests.search.family_slow import DEMO_FAMILIES, SlowNotebook
from web.app import create_app
from web.cli.main import main
from web.views.state import family_address

from ..reading_pages import Sections

CASE = """\
---
case: {case}
date: 2026-05-0{day}
device: radio
make: Corvessa
model: {model}
chassis_family: {family}
symptom: [no sound]
root_cause: volume pot worn
fix_time: {minutes} min
outcome: fixed
---
"""


def percent(share: float) -> str:
    """Say a share as the pages do, worked out apart from them."""
    share = round(share, 9)  # the slow script solves a quadratic, which leaves 0.9999999 for 1
    if 0 < share < 0.01:
        return "under 1 %"
    return "over 99 %" if 0.99 < share < 1 else f"{share:.0%}".replace("%", " %")


def minutes(time: float) -> str:
    """Say minutes as the pages do, to five from twenty on, worked out apart from them."""
    hours, rest = divmod(round(time) if time < 20 else 5 * round(time / 5), 60)
    return " ".join(part for part, said in ((f"{hours} h", hours), (f"{rest} min", rest)) if said)


def of(count: int, figures: dict[str, Any], name: str, total: int) -> str:
    """Say a share with its percentage only for five cases or more, and its interval."""
    said = f", {percent(figures[name])}" if total >= 5 else ""
    low = percent(figures[f"{name}_low"]).removesuffix(" %")
    return f"{count} of {total}{said} ({low} to {percent(figures[f'{name}_high'])})"


def time_of(figures: dict[str, Any]) -> str:
    """Say a median fix time, and its interval where it has one."""
    median = minutes(figures["fix_time_median_min"])
    if figures["fix_time_low_min"] is None:
        return median
    return f"{median} ({minutes(figures['fix_time_low_min'])} to {minutes(figures['fix_time_high_min'])})"


@pytest.fixture(scope="module")
def demo(demo_bench: Bench) -> Flask:
    return create_app(demo_bench, testing=True)


def unfolded(html: str) -> Sections:
    """Read a page with everything that a press opens."""
    return Sections(re.sub(r"</?(details|summary|button)\b[^>]*>", "", html))


def page_of(app: Flask, address: str) -> Sections:
    response = app.test_client().get(address)
    assert response.status_code == 200
    return unfolded(response.text)


def page_rows(html: str) -> list[list[str]]:
    """Return the rows of the table of ranges."""
    return unfolded(html).rows["sure-h"]


@pytest.mark.parametrize("family", DEMO_FAMILIES)
@pytest.mark.parametrize("query", ["", "?outcome=fixed", "?since=2025-01-01"], ids=["all", "fixed", "since"])
def test_causes_say_the_slow_figures(demo: Flask, slow_demo: SlowNotebook, family: str, query: str) -> None:
    name, _, value = query.removeprefix("?").partition("=")
    figures = slow_demo.figures(family, **({name: value} if name else {}))
    page = page_of(demo, f"/families/{family}{query}")
    known, ranges = page.text["known-h"], page.rows["sure-h"][1:]
    for cause, row in zip(figures["causes"], ranges, strict=False):
        assert f"{cause['root_cause']} {cause['cases']} of {figures['cases']} " in known
        assert set(cause["evidence"][:12]) <= set(re.findall(r"\b\d{8}-[0-9a-z]{4}\b", known))
        assert f"{cause['fixed']} of {cause['cases']} fixed" in known or not cause["fixed"]
        assert ("never fixed" in known) >= (not cause["fixed"])
        for part in cause["parts"][:4]:
            assert part["part"] in known
        assert row[0] == cause["root_cause"]
        assert row[1] == of(cause["cases"], cause, "share", figures["cases"])
        assert (time_of(cause) if cause["fixed"] else "never fixed") in row[2]
        assert row[3] == of(cause["fixed"], cause, "success", cause["cases"])


@pytest.mark.parametrize("family", DEMO_FAMILIES)
def test_blinks_say_what_they_turned_out_to_be(demo: Flask, slow_demo: SlowNotebook, family: str) -> None:
    said = page_of(demo, f"/families/{family}").text.get("blinks-h", "")
    for blink in slow_demo.figures(family)["blinks"]:
        assert f" {blink['pattern']} {blink['service_sheet']}" in said
        for cause in blink["causes"]:
            assert f"{cause['root_cause']} {cause['cases']} of {blink['cases']}" in said


def test_blinks_noted_once_and_not_in_the_sheet_are_folded(demo: Flask) -> None:
    html = demo.test_client().get("/families/HV-L2").text
    blinks = html.partition('id="blinks-h"')[2].partition("</section>")[0]
    shown, fold, rest = blinks.partition("counts noted once")
    assert fold
    assert "backlight protection" in shown
    assert ">7<" not in shown
    assert ">7<" in rest


def test_count_of_a_family_is_told_as_in_an_answer(demo: Flask) -> None:
    asked = {"q": "dead, three flashes", "family": "HV-L2"}
    answer = demo.test_client().get("/", query_string=asked).text
    assert "of 2 past cases: 2 PFC MOSFET shorted" in answer
    assert (
        "PFC output missing: PFC MOSFET shorted 2 of 2" in page_of(demo, "/families/HV-L2").text["blinks-h"]
    )


@pytest.mark.parametrize("family", DEMO_FAMILIES)
def test_comebacks_years_parts_and_quote_say_the_slow_figures(
    demo: Flask, slow_demo: SlowNotebook, family: str
) -> None:
    figures, page = slow_demo.figures(family), page_of(demo, f"/families/{family}")
    said = page.text["sure-h"]
    assert f"{figures['comebacks']} of {figures['fixed']} fixed repairs" in said
    assert f"{figures['repairs_followed_90_days']} repairs were followed all 90 days" in said
    if figures["comeback_90_days"] is not None and figures["fixed"] >= 5:
        assert percent(figures["comeback_90_days"]) in said
    years = [row for row in page.rows["sure-h"] if re.match(r"20\d\d", row[0])]
    assert [(row[0][:4], row[1]) for row in years] == [
        (str(year["year"]), str(year["cases"])) for year in figures["years"]
    ]
    parts = [row for row in page.rows.get("parts-h", []) if row[0] != "Part"]
    assert [[row[0], *map(int, row[1:])] for row in parts] == [
        [part["part"], part["used"], part["keep_for_next_ten"]] for part in figures["parts"]
    ]
    time = figures["bench_time_min"]
    low, median, high = (minutes(to_five(time[name])) for name in ("low", "median", "high"))
    assert f"About {median} at the bench" in page.text["quote-h"]
    assert f"{low} to {high}" in page.text["quote-h"]


def to_five(time: float) -> float:
    """Return an estimate as it is said: to five minutes from twenty on."""
    return time if time < 20 else round(time / 5) * 5


def test_overview_says_the_slow_figures(demo: Flask, slow_demo: SlowNotebook) -> None:
    said = page_of(demo, "/families/").text[""]
    for family in DEMO_FAMILIES:
        figures = slow_demo.figures(family)
        line = re.search(rf"{family} .*? (\d+) of (\d+) cases fixed; usual fix ([^A-Z]+) ", f"{said} ")
        assert line
        assert line.groups() == (
            str(figures["fixed"]), str(figures["cases"]), minutes(figures["fix_time_median_min"])
        )  # fmt: skip


def test_weak_points_say_the_slow_figures(demo: Flask, slow_demo: SlowNotebook) -> None:
    page = page_of(demo, "/weak-points")
    said = f"{page.text['recur-h']} "
    for name, notes in slow_demo.groups(slow_demo.notes):
        families = Counter(note.text("chassis_family") for note in notes)
        line = f"{name} {len(notes)} of {len(slow_demo.notes)} {sum(note.fixed for note in notes)} fixed. "
        assert (line in said) == (len(families) > 1)
        if len(families) > 1:
            met = said.partition(line)[2]
            assert all(f"{family} ({count})" in met for family, count in families.items())


def test_weak_points_call_a_rise_and_a_fall(tmp_path: Path) -> None:
    (tmp_path / "cases").mkdir()
    for number in range(24):
        year, cause = (2022 + number // 12, "switch burnt") if number < 12 else (2026, "volume pot worn")
        case = f"{year}050{number % 9 + 1}-a0{number:02}"
        note = CASE.format(case=case, day=1, model="CR-1", family="CR", minutes=30)
        note = note.replace("2026-05-01", f"{year}-05-0{number % 9 + 1}").replace("volume pot worn", cause)
        (tmp_path / "cases" / f"{case}.md").write_text(note, encoding="utf-8")
    client = create_app(Bench(Notebook(tmp_path), look_again_s=0), testing=True).test_client()
    said = Sections(client.get("/weak-points").text).text["trend-h"]
    assert "switch burnt: less this year than chance explains, 0 of its 12 cases" in said
    assert "volume pot worn: more this year than chance explains, 12 of its 12 cases" in said


def test_weak_points_of_the_demo_call_nothing_that_chance_explains(demo: Flask) -> None:
    said = page_of(demo, "/weak-points").text["trend-h"]
    assert said == "This year No cause came up more or less this year than chance explains."


def test_weak_points_of_an_empty_notebook_say_so(tmp_path: Path) -> None:
    (tmp_path / "cases").mkdir()
    client = create_app(Bench(Notebook(tmp_path), look_again_s=0), testing=True).test_client()
    assert "nothing can be compared" in Sections(client.get("/weak-points").text).text["trend-h"]
    assert "No family yet" in client.get("/families/").text


def test_what_keeps_people_safe_comes_before_anything_else(demo: Flask) -> None:
    html = demo.test_client().get("/families/HV-L2").text
    places = [
        html.index(text) for text in ("Mind this first", "Before power</h2>", "What it is known for</h2>")
    ]
    assert places == sorted(places)


def test_slice_stands_in_the_form_and_can_be_undone(demo: Flask) -> None:
    html = demo.test_client().get("/families/HV-L2?outcome=fixed&model=HV-43L2&since=2024-01-01").text
    assert "Counting only: fixed, HV-43L2, since 2024-01-01" in html
    assert "<option selected>fixed</option>" in html
    assert "<option selected>HV-43L2</option>" in html
    assert 'value="2024-01-01"' in html
    assert 'href="/families/HV-L2">Count all 33</a>' in html


def test_slice_that_cannot_be_read_is_said_beside_the_whole_family(demo: Flask) -> None:
    html = demo.test_client().get("/families/HV-L2?since=lately").text
    assert "write a date 2025-06-30" in html
    assert "11 of 33" in html


def test_slice_without_cases_says_so(demo: Flask) -> None:
    html = demo.test_client().get("/families/HV-L2?since=2090-01-01").text
    assert "No case of HV-L2 fits since 2090-01-01" in html
    assert "backlight protection" in html


@pytest.mark.parametrize(
    ("asked", "leads_to"),
    [
        ("hv-l2", "/families/HV-L2"),
        ("HV-43L2", "/families/HV-L2"),
        ("HV L2?outcome=fixed", "/families/HV-L2?outcome=fixed"),
    ],
    ids=["small-letters", "model", "spaced-and-sliced"],
)
def test_other_spellings_lead_to_the_family(demo: Flask, asked: str, leads_to: str) -> None:
    response = demo.test_client().get(f"/families/{asked}")
    assert (response.status_code, response.location) == (302, leads_to)


def test_unknown_family_offers_the_nearest_names(demo: Flask) -> None:
    response = demo.test_client().get("/families/HV-L3")
    assert response.status_code == 404
    assert 'href="/families/HV-L2"' in response.text
    assert 'href="/families/new?name=HV-L3"' in response.text


def test_unknown_family_is_shown_as_typed_and_runs_nothing(demo: Flask) -> None:
    response = demo.test_client().get("/families/<script>alert(1)</script>")
    assert response.status_code == 404
    assert "<script>alert" not in response.text


@pytest.mark.parametrize(
    "name",
    ["AB 1/2", "Größe & Söhne", "new", "AB/edit", "50 %", "a+b?c#d", "x;y", ".."],
    ids=lambda name: name,
)
def test_family_of_cases_alone_has_its_page_whatever_its_name(tmp_path: Path, name: str) -> None:
    (tmp_path / "cases").mkdir()
    for day in (1, 2):
        case = f"2026050{day}-aaaa"
        note = CASE.format(case=case, day=day, model="CR-1", family=f'"{name}"', minutes=30)
        (tmp_path / "cases" / f"{case}.md").write_text(note, encoding="utf-8")
    client = create_app(Bench(Notebook(tmp_path), look_again_s=0), testing=True).test_client()
    assert f'href="{family_address(name)}"' in client.get("/families/").text.replace("&amp;", "&")
    response = client.get(family_address(name, {"since": "2026-05-02"}))
    assert response.status_code == 200
    page = Sections(response.text)
    assert "Nobody has written a note on this family yet" in page.text[""]
    assert page_rows(response.text)[1][1] == "1 of 1 (21 to 100 %)"


@pytest.mark.parametrize(
    ("device", "hazard"),
    [
        pytest.param("microwave oven", "microwave high voltage", id="known-device"),
        pytest.param("thing nobody knows", "stored charge", id="unknown-device"),
    ],
)
def test_family_without_a_note_warns_of_what_any_such_device_has(
    tmp_path: Path, device: str, hazard: str
) -> None:
    (tmp_path / "cases").mkdir()
    note = CASE.format(case="20260501-aaaa", day=1, model="CR-1", family="CR", minutes=30)
    (tmp_path / "cases" / "20260501-aaaa.md").write_text(note.replace("radio", device), encoding="utf-8")
    client = create_app(Bench(Notebook(tmp_path), look_again_s=0), testing=True).test_client()
    html = client.get("/families/CR").text
    assert 0 < html.find(f"<strong>{hazard}.</strong>") < html.index("What it is known for")
    assert hazard in client.get("/api/families/CR").get_json()["caution_says"]


def test_shares_of_fewer_than_five_cases_are_counts_and_intervals(tmp_path: Path) -> None:
    (tmp_path / "cases").mkdir()
    for day in (1, 2, 3, 4):
        case = f"2026050{day}-aaaa"
        note = CASE.format(case=case, day=day, model="CR-1", family="CR", minutes=30)
        (tmp_path / "cases" / f"{case}.md").write_text(note, encoding="utf-8")
    client = create_app(Bench(Notebook(tmp_path), look_again_s=0), testing=True).test_client()
    # Wilson 95 % interval of 4 of 4: 0.510 to 1, as 4 / (4 + 1.96 squared) by hand.
    assert page_rows(client.get("/families/CR").text)[1][1] == "4 of 4 (51 to 100 %)"
    note = CASE.format(case="20260505-aaaa", day=5, model="CR-1", family="CR", minutes=30)
    (tmp_path / "cases" / "20260505-aaaa.md").write_text(note, encoding="utf-8")
    assert page_rows(client.get("/families/CR").text)[1][1] == "5 of 5, 100 % (57 to 100 %)"


def test_family_with_a_note_alone_has_its_page(client: FlaskClient, root: Path) -> None:
    note = "---\nchassis_family: CR-9\ndevice: radio\nmodels: [CR-90]\nbefore_power: [look at the cord]\n"
    (root / "families" / "cr-9.md").write_text(note + "---\nTwo *screws*.\n", encoding="utf-8")
    html = client.get("/families/CR-9").text
    assert "No case of this family was written up yet." in html
    assert "look at the cord" in html
    assert "Two <em>screws</em>." in html
    assert "no case yet" in client.get("/families/").text


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("hv43", {"HV-L2"}),
        ("tarnbrok", {"TN-D4", "TN-S3", "TN-W2"}),
        ("washing machine", {"TN-W2"}),
        ("toaster", set()),
    ],
    ids=["model", "one-slip", "device", "unknown"],
)
def test_families_are_found_without_script(demo: Flask, said: str, found: set[str]) -> None:
    html = demo.test_client().get("/families/", query_string={"find": said}).text
    assert set(re.findall(r'href="/families/([A-Z0-9-]+)"', html)) == found
    assert f'value="{said}"' in html


def test_quote_follows_the_shops_settings(client: FlaskClient, root: Path) -> None:
    assert "labour_rate = 40" in client.get("/families/HV-L2").text
    (root / "shop.toml").write_text('labour_rate = 60\ncurrency = "crowns"\n', encoding="utf-8")
    first = unfolded(client.get("/families/HV-L2").text).text["quote-h"]
    found = re.search(r"about (\d+) crowns", first)
    assert found
    later = unfolded(client.get("/families/HV-L2?parts_cost=15&worth=40").text).text["quote-h"]
    assert f"about {int(found[1]) + 15} crowns" in later
    assert "Likely not worth it" in later
    assert "Likely not worth it" not in first


def test_bad_settings_are_said_and_hide_nothing(client: FlaskClient, root: Path) -> None:
    (root / "shop.toml").write_text('labour_rate = "much"\n', encoding="utf-8")
    page = unfolded(client.get("/families/HV-L2").text)
    assert "shop.toml:1: labour_rate" in page.text["quote-h"]
    assert "PFC MOSFET shorted" in page.text["known-h"]


def test_other_spellings_of_a_cause_are_said_beside_it(client: FlaskClient, root: Path) -> None:
    case = CASE.format(case="20260506-ab12", day=6, model="HV-43L2", family="HV-L2", minutes=40)
    said = case.replace("volume pot worn", "PFC stage MOSFET shorted").replace("radio", "LED TV")
    (root / "cases/20260506-ab12.md").write_text(said, encoding="utf-8")
    page = unfolded(client.get("/families/HV-L2").text).text["known-h"]
    assert "PFC MOSFET shorted 3 of 4" in page
    assert "Also noted as PFC stage MOSFET shorted." in page
    for address in ("/families/HV-L2", "/?q=dead,+three+flashes&family=HV-L2"):
        merge = re.search(r'href="(/attention/merge[^"]+)">One name for all', client.get(address).text)
        assert merge
        assert "1 note would change" in client.get(unescape(merge[1])).text
    text = CliRunner().invoke(main, ["family", "--notebook", str(root), "HV-L2"]).output
    assert "also noted as PFC stage MOSFET shorted" in " ".join(text.split())
