"""The search page: one answer in the order in which it is needed."""

import html
import re
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient

from kb.notebook import Notebook
from search.answering.answer import Caution
from search.bench import Bench
from web.app import create_app
from web.cli.main import main

from ..reading_pages import form_values

ASKED = "/?q=HV-43L2+dead+three+flashes"


def place(text: str, said: str) -> int:
    """Return where something stands on the page; it must stand there."""
    assert said in text, said
    return text.index(said)


def test_owner_on_the_line_is_told_and_asked_before_anything_else(client: FlaskClient) -> None:
    text = client.get(ASKED + "&mode=phone").text
    order = ["Tell the owner</h2>", "Ask the owner</h2>", "Price and time</h2>", "Check next</h2>"]
    assert sorted(order, key=lambda said: place(text, said)) == order
    assert text.count("Tell the owner</h2>") == 1
    assert 'href="/?q=HV-43L2+dead+three+flashes" data-key="bench"' in text


def test_answer_keeps_the_order_of_the_bench(client: FlaskClient) -> None:
    text = client.get(ASKED).text
    order = [
        place(text, said)
        for said in (
            'class="caution names"',
            "Understood</h2>",
            "Check next</h2>",
            "Likely causes</h2>",
            "Before power</h2>",
            "Tell the owner</h2>",
            "Price and time</h2>",
            "While it is open</h2>",
            "Past repairs</h2>",
        )
    ]
    assert order == sorted(order)


def test_cautions_carry_their_sentence_and_sign(client: FlaskClient) -> None:
    text = client.get(ASKED).text
    box = text[place(text, 'class="caution names"') : place(text, 'class="ask card')]
    names, full = box.split('class="hazards-full"')
    for part in (names, full):
        assert part.count("<svg") == 2
        assert "mains" in part
        assert "stored charge" in part
    assert "can kill" in full


def test_what_was_understood_can_be_set_aside_and_taken_back(client: FlaskClient) -> None:
    text = client.get(ASKED).text
    assert "HV-L2" in text
    assert "family=none" in text
    aside = client.get(ASKED + "&family=none&blinks=none").text
    assert "read it from the complaint again" in aside
    assert "read them from the complaint again" in aside


def test_misspelt_word_is_shown_with_what_was_searched(client: FlaskClient) -> None:
    text = client.get("/?q=bakclight+collapses").text
    assert "“bakclight” taken as</span> <b>backlight</b>" in text


def test_matches_are_marked(client: FlaskClient) -> None:
    text = client.get("/?q=teatime").text
    assert "<mark>teatime</mark>" in text


def test_every_cause_leads_to_its_cases(client: FlaskClient) -> None:
    text = client.get(ASKED).text
    causes = text[place(text, "Likely causes</h2>") : place(text, "Before power</h2>")]
    for case_id in ("20260318-k7f2", "20260402-m3xa", "20260511-q9tt", "20260620-c5pp"):
        assert f'href="/cases/{case_id}"' in causes


def test_page_sheet_and_terminal_name_what_a_new_cause_may_be(client: FlaskClient) -> None:
    asked = "the kettle clicks off before it boils, it hardly steams"
    named = r"Never met here, but known in general: [a-z ]+ [0-9]+ %"
    page = client.get("/", query_string={"q": asked}).text
    assert re.search(r'known in general: [a-z ]+</span> <span class="share">[0-9]+ %', page)
    assert re.search(named, page[place(page, 'id="sheet"') :])
    printed = CliRunner().invoke(main, ["search", "--demo", asked]).output
    assert re.search(named, " ".join(printed.split()))


def test_ruled_out_cause_is_struck_and_can_be_put_back(client: FlaskClient) -> None:
    text = client.get(ASKED + "&rule_out=PFC+MOSFET+shorted").text
    assert "<s>PFC MOSFET shorted</s>" in text
    assert f'href="{ASKED.replace("&", "&amp;")}#next"' in text
    assert '<span class="cause-name">PFC MOSFET shorted</span>' not in text


def test_cause_that_nobody_knows_is_not_said_to_be_ruled_out(client: FlaskClient) -> None:
    text = client.get(ASKED + "&rule_out=PFC+mosfet+shortd").text
    assert "so it rules nothing out" in text
    assert "PFC mosfet shortd ruled out" not in text
    assert "PFC mosfet shortd was to be ruled out" in text


@pytest.mark.parametrize("query", ["family=HV-L2", "blinks=6", "family=HV-49L2&blinks=6"])
def test_family_or_blinks_alone_are_enough(client: FlaskClient, query: str) -> None:
    text = client.get(f"/?{query}").text
    assert "20260511-q9tt" in text[place(text, "Past repairs</h2>") :]


def test_blinks_that_are_no_pattern_are_said_beside_their_box(client: FlaskClient) -> None:
    response = client.get("/?q=dead&blinks=lots")
    assert response.status_code == 422
    assert "lots" in response.text
    assert 'value="lots"' in response.text
    assert ">dead</textarea>" in response.text
    assert "Past repairs</h2>" in response.text
    error = client.get("/api/search?q=dead&blinks=lots")
    assert error.status_code == 422
    assert error.get_json()["error"]["fields"].keys() == {"blinks"}


def test_bad_note_is_still_found_by_its_words(client: FlaskClient, root: Path) -> None:
    (root / "cases" / "torn.md").write_text("---\ncase: what\n---\nwhistling teapot\n")
    text = client.get("/?q=whistling+teapot").text
    assert "cases/torn.md" in text
    assert "needs attention" in text


def test_note_changed_in_an_editor_is_followed(client: FlaskClient, root: Path) -> None:
    path = root / "cases/2026/20260620-c5pp.md"
    assert "glockenspiel" not in client.get("/?q=drain").text
    path.write_text(path.read_text().replace("pump cleaned", "glockenspiel removed"))
    assert "glockenspiel" in client.get("/?q=drain").text
    path.unlink()
    assert "20260620-c5pp" not in client.get("/?q=drain").text


def test_start_page_offers_families_and_says_what_is_held(client: FlaskClient) -> None:
    text = client.get("/").text
    assert "4 repairs" in text
    assert 'href="/?family=HV-L2"' in text


@pytest.mark.parametrize("path", ["/", ASKED, "/cases/20260318-k7f2", "/cases/new", "/about", "/nowhere"])
def test_each_page_ends_with_whose_experience_it_is(client: FlaskClient, path: str) -> None:
    foot = client.get(path).text.split("<footer")[1]
    assert "one shop's own experience" in foot
    assert "licensed" in foot
    assert "Local codes come first" in foot.replace("Local\n  codes", "Local codes").replace("\n  ", " ")


def test_set_without_a_family_is_asked_for_its_label(client: FlaskClient) -> None:
    text = client.get("/?q=no+backlight+and+six+blinks&mode=phone").text
    assert "What does the label on the back say?" in text
    assert "Open the set, if it is HV-L2" in text


def test_misheard_model_is_doubted_in_the_box_as_in_the_words(client: FlaskClient) -> None:
    for asked in ("/?q=HV-43K2+dead", "/?q=dead&family=HV-43K2"):
        text = client.get(asked).text
        assert "nearest to HV-43K2" in text
        assert "No family note lists HV-43K2; HV-L2 has the nearest name." in text
    for listed in ("HV-43L2", "hv 43 l2", "HV-43L2-GB", "HV-L2"):
        for asked in ({"q": f"{listed} dead"}, {"q": "dead", "family": listed}):
            text = client.get("/", query_string=asked).text
            assert "No family note lists" not in text, asked
            assert "nearest to" not in text, asked


def test_kind_of_set_is_no_fault(client: FlaskClient) -> None:
    text = client.get("/?q=washing+machine+does+not+drain").text
    assert '<span class="soft">fault</span> <b>does not drain</b>' in text
    assert '<span class="soft">set</span> <b>washing machine</b>' in text


def test_cause_met_only_on_other_chassis_says_so(client: FlaskClient) -> None:
    """A check that names a part holds for the chassis it was written for."""
    text = client.get("/?q=drain+pump+dead&family=HV-L2").text
    causes = text[place(text, "Check next</h2>") : place(text, "Past repairs</h2>")]
    assert "never in HV-L2, only in TN-W2" in causes
    assert "seen in HV-L2" not in causes
    assert "seen in HV-L2" in client.get("/?q=dead+three+flashes").text


def test_each_step_can_be_ruled_out_where_it_stands(client: FlaskClient) -> None:
    text = client.get(ASKED).text
    checks = text[place(text, "Check next</h2>") : place(text, "Likely causes</h2>")]
    for name in ("found", "rule_out"):
        assert f'form="noting" name="{name}" value="PFC MOSFET shorted"' in checks


def test_reading_goes_along_with_any_press_without_scripts(client: FlaskClient) -> None:
    asked = f"{ASKED}&rule_out=no+such+cause"
    sent = form_values(client.get(f"{asked}&found=fuse+open").text, "noting")
    assert (sent.getlist("rule_out"), "found" in sent) == (["no such cause"], False)  # a press says which
    text = client.get(asked).text
    assert re.search(
        r'<form id="noting"(?:(?!</form>).)*<button></button></form>', text
    )  # what Enter presses
    sent = form_values(text, "noting")
    sent.setlist("noted", ["0.4 ohm" for _ in sent.getlist("at")])
    sent.add("rule_out", "PFC MOSFET shorted")
    said = client.get(f"/?{urlencode(list(sent.items(multi=True)))}").text
    assert "<s>PFC MOSFET shorted</s>: 0.4 ohm" in said


def test_set_is_looked_over_where_only_unlikely_causes_are_left(client: FlaskClient) -> None:
    said = "Look the set over: no known cause is likely enough to check."
    assert said in client.get(f"{ASKED}&rule_out=PFC+MOSFET+shorted").text
    assert said not in client.get(ASKED).text


def test_found_cause_leaves_no_doubt_beside_it(client: FlaskClient) -> None:
    asked = ASKED + "&rule_out=PFC+MOSFET+shorted"
    ruled_out = client.get(asked).text
    assert (
        "ruled out, so it is probably something new" in ruled_out or "likely ones were ruled out" in ruled_out
    )
    assert "were ruled out" not in client.get(asked + "&found=12+V+rectifier+shorted").text


def test_found_cause_is_priced_alone_and_with_the_opening(client: FlaskClient, root: Path) -> None:
    (root / "shop.toml").write_text("labour_rate = 60\n", encoding="utf-8")
    asked = {"q": "dead, three flashes", "family": "HV-L2"}
    shown = [
        client.get("/", query_string={**asked, **more}).text
        for more in (
            {"found": "PFC MOSFET shorted"},
            {"found": "PFC MOSFET shorted", "rule_out": "LED strip open circuit"},
        )
    ]
    times = [re.findall(r"Whole job, for the quote</dt><dd>([^<]*)", page) for page in shown]
    assert times[0]
    assert times[0] == times[1]
    assert "Likely causes before it was found" in shown[0]


def test_new_cause_stands_first_where_it_is_the_likeliest(client: FlaskClient, root: Path) -> None:
    found = set()
    for text in ("dead, three flashes", "zzzz"):
        answer = client.get("/api/search", query_string={"q": text}).get_json()
        new, likeliest = answer["not_in_notebook"], answer["causes"][0]
        leads = new > likeliest["probability"]
        page = client.get("/", query_string={"q": text}).text
        printed = CliRunner().invoke(main, ["search", "--notebook", str(root), text]).output
        for said in (page[place(page, "Likely causes</h2>") :], printed[printed.index("LIKELY CAUSES") :]):
            row = said.lower().index("a cause not in this notebook yet")
            assert (row < said.index(likeliest["root_cause"])) == leads
        found.add(leads)
    assert found == {True, False}


def test_long_lists_are_cut_and_say_what_was_cut(client: FlaskClient, root: Path) -> None:
    note = (root / "cases/2026/20260620-c5pp.md").read_text()
    for number in range(30):
        case_id, part = f"20260621-{number:04d}", "bcdfghjkmnpqrstvwxz"[number % 19] * (3 + number // 19)
        text = note.replace("20260620-c5pp", case_id).replace("pump jammed", f"{part} cracked")
        (root / f"cases/2026/{case_id}.md").write_text(text)
    text = client.get("/?q=does+not+drain").text
    assert "More past repairs" in text
    assert "less likely causes" in text
    assert "Nothing stands out." in text
    causes = text[place(text, "Likely causes</h2>") : place(text, "Tell the owner</h2>")]
    assert re.search(r"And \d+ others", causes)
    assert "ore past repairs" not in client.get("/?q=does+not+drain&limit=40").text


def test_hazards_all_spelt_out_leave_no_empty_fold(client: FlaskClient) -> None:
    page = client.application.jinja_env.from_string(
        '{% import "macros.html" as m with context %}{{ m.hazards(list, spelt) }}'
    )
    spelt = Caution(kind="lithium cells", says="It burns.")
    with client.application.test_request_context():
        alone = page.render(list=[spelt], spelt=["lithium cells"])
        beside = page.render(list=[spelt, replace(spelt, kind="mains")], spelt=["lithium cells"])
    assert alone.count("It burns.") == 1
    assert "<details" not in alone
    assert "<details" in beside


def test_smell_of_gas_shows_no_causes_and_no_repairs(client: FlaskClient) -> None:
    for address in ("/?q=dead,+smells+of+gas", "/?q=dead,+smells+of+gas&mode=phone"):
        page = client.get(address).text
        assert "No cause is looked for until the gas is shut off." in page
        assert all(
            said not in page
            for said in ("not in this notebook yet", "in this notebook</span>", 'class="hits"')
        )


def test_sheet_names_no_price_file_where_too_little_was_said(client: FlaskClient, root: Path) -> None:
    assert "shop.toml" in client.get("/?q=dead+three+flashes&family=HV-L2").text
    (root / "shop.toml").write_text("labour_rate = 40\n", encoding="utf-8")
    assert "shop.toml" not in client.get("/?q=dead+three+flashes&family=HV-L2").text
    assert "shop.toml" not in client.get("/?q=it+does+not+work").text


def test_set_never_met_says_so_without_other_causes(client: FlaskClient) -> None:
    page = client.get("/?q=the+kettle+does+not+get+hot").text
    assert "A cause in this notebook" in page
    assert "Other causes" not in page
    assert "None of a kettle." in page


def test_every_long_list_is_one_press_from_the_first_screen(client: FlaskClient) -> None:
    text = client.get(ASKED).text
    line = text[place(text, 'class="jump"') : place(text, "Check next</h2>")]
    targets = re.findall(r'href="#([\w-]+)"', line)
    assert targets == ["tell-h", "before-h", "quote-h", "past-h"]
    for target in targets:
        assert f'id="{target}"' in text
    on_the_line = client.get(ASKED + "&mode=phone").text
    assert '<a href="#ask-h">Ask</a>' in on_the_line
    assert 'id="ask-h"' in on_the_line


def test_what_was_measured_is_in_the_address_and_in_the_write_up(client: FlaskClient) -> None:
    asked = ASKED + "&at=PFC+MOSFET+shorted&noted=0.4+ohm"
    text = client.get(asked).text
    assert 'value="0.4 ohm"' in text
    ruled_out = client.get(asked + "&rule_out=PFC+MOSFET+shorted").text
    assert "<s>PFC MOSFET shorted</s>: 0.4 ohm" in ruled_out
    found = client.get(asked + "&found=PFC+MOSFET+shorted").text
    address = re.search(r'data-open href="([^"]+)"', found)
    assert address
    write_up = client.get(address[1].replace("&amp;", "&")).text
    assert "0.4 ohm" in write_up
    assert 'value="PFC MOSFET shorted"' in write_up


def test_family_that_is_only_guessed_is_to_be_checked_in_the_write_up(client: FlaskClient) -> None:
    for asked, guessed in (("/?q=dead+telly,+three+flashes", True), (ASKED, False)):
        found = client.get(asked + "&found=PFC+MOSFET+shorted").text
        address = re.search(r'data-open href="([^"]+)"', found)
        assert address
        write_up = client.get(html.unescape(address[1])).text
        assert 'name="chassis_family" value="HV-L2"' in write_up
        assert ("Check this: guessed from the causes." in write_up) == guessed


def test_cases_of_what_was_ruled_out_are_not_shown_again(client: FlaskClient) -> None:
    left = client.get(ASKED + "&rule_out=PFC+MOSFET+shorted").text
    for case_id, shown in (("20260318-k7f2", False), ("20260511-q9tt", True)):
        assert (f'class="case-id">{case_id}' in left[place(left, "Past repairs</h2>") :]) == shown


def test_earlier_repairs_are_a_press_away(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "Earlier repairs" not in client.get("/").text
    monkeypatch.setattr("web.pages.search_page.NEWEST_SHOWN", 2)
    first = client.get("/").text
    assert "20260318-k7f2" not in first
    address = re.search(r'href="([^"]+)">Earlier repairs', first)
    assert address
    more = client.get(address[1]).text
    assert "20260318-k7f2" in more
    assert "Earlier repairs" not in more
    assert "Say what the owner says" not in more


def test_case_number_opens_its_case(client: FlaskClient) -> None:
    assert client.get("/?q=20260318-K7F2").location == "/cases/20260318-k7f2"


def test_nothing_asked_says_what_to_do(client: FlaskClient) -> None:
    assert "Say what the owner says" in client.get("/?q=&family=").text
    assert "Say what the owner says" not in client.get("/").text


def test_lamp_replays_what_the_api_says(client: FlaskClient) -> None:
    told = client.get("/api/blinks?pattern=2%2B3").get_json()
    assert told["pattern"] == "2+3"
    assert len(told["readings"][0]["steps"]) == 5
    assert client.get("/api/blinks?pattern=lots").status_code == 422


def test_start_page_shows_what_was_lately_on_the_bench(client: FlaskClient, root: Path) -> None:
    def shown() -> list[str]:
        text = client.get("/").text
        return re.findall(r'href="/cases/([\w-]+)"', text[place(text, 'class="lately"') :])

    written = sorted((path.stem for path in (root / "cases").rglob("*.md")), key=lambda case: case[:8])
    assert shown() == written[::-1]
    newest = (root / "cases" / "2026" / f"{written[-1]}.md").read_text()
    for number in range(8):
        case = f"20270101-aaa{number}"
        text = newest.replace(written[-1], case)
        text = re.sub(r"^date: .*$", "date: 2027-01-01", text, flags=re.M)
        (root / "cases" / "2026" / f"{case}.md").write_text(text)
    assert shown() == [f"20270101-aaa{number}" for number in range(6)]


def test_family_that_nobody_knows_is_compared_with_nothing(client: FlaskClient) -> None:
    text = client.get("/?q=dead&family=QX-99").text
    assert "The notebook knows no family or model" in text
    assert "nearest name" not in text
    assert "never in QX-99" not in text
    assert "seen in HV-L2" in text


def test_blink_count_is_told_by_sheet_and_by_past_cases(client: FlaskClient) -> None:
    text = client.get(ASKED).text
    line = text[place(text, 'class="blink-record"') : place(text, "Before power</h2>")]
    assert "3 in HV-L2: " in line
    assert "past case" in line
    assert 'class="blink-record"' not in client.get("/?q=dead+three+flashes&family=none").text


def test_empty_notebook_leads_to_the_first_repair(tmp_path: Path) -> None:
    client = create_app(Bench(Notebook(tmp_path), look_again_s=0), testing=True).test_client()
    text = client.get("/").text
    assert 'href="/cases/new"' in text[text.index("The first repairs") :]
    assert 'href="/families/new"' in text
    assert "For instance" not in text


def test_blink_count_is_explained_for_the_only_family_of_the_make(client: FlaskClient, root: Path) -> None:
    asked = {"q": "Halvern telly, three flashes"}
    page = client.get("/", query_string=asked).text
    assert "3 in HV-L2: the service sheet says PFC voltage missing" in page
    on_paper = page[page.index('id="sheet"') :]
    assert all("taken to be HV-L2, the only Halvern LED TV here" in each for each in (page, on_paper))
    undo = re.search(r'href="([^"]+)">press to undo', page)
    assert undo
    text = CliRunner().invoke(main, ["search", "--notebook", str(root), *asked.values()]).output
    assert "the service sheet says PFC voltage missing" in " ".join(text.split())
    assert "taken to be HV-L2, the only Halvern LED TV here; --family none undoes it" in " ".join(
        text.split()
    )
    page = client.get(html.unescape(undo[1])).text
    assert "PFC voltage missing" not in page
    assert "taken to be" not in page
    note = (root / "families/hv-l2.md").read_text(encoding="utf-8").replace("HV-L2", "HV-M3", 1)
    (root / "families/hv-m3.md").write_text(re.sub("models:.*", "models: [HV-43M3]", note), encoding="utf-8")
    page = client.get("/", query_string=asked).text
    assert "taken to be" not in page


def test_gas_that_is_only_heard_hides_neither_causes_nor_checks(client: FlaskClient) -> None:
    text = client.get("/?" + urlencode({"q": "the rubber hose to its bottle has cracks in it"})).text
    assert re.search(r"perhaps.{0,40}smell of gas", text, re.DOTALL)
    assert "No cause is looked for" not in text
    assert "First the gas is found" not in text


def test_danger_that_comes_first_is_said_in_place_of_a_check(client: FlaskClient) -> None:
    text = client.get(
        "/?" + urlencode({"q": "my toddler has swallowed the button battery of the remote"})
    ).text
    assert "Look the set over" not in text
    assert text.count("No price and no checks: whoever swallowed the battery comes first.") > 1
