"""What is told to the owner never contradicts a hazard. Common practice, no source."""

import html
import re
import shutil
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import click
import pytest
from rapidfuzz import fuzz, utils

from kb.notebook import DEMO, Notebook
from kb.terms import Term, load_vocabulary
from search.answering.answer import Advice, Answer, Caution
from search.bench import Bench
from web.app import create_app
from web.views.answer_view import BLINKING, AnswerView, ask, view_answer
from web.views.family_view import family_view
from web.views.owner_advice import advise_owner
from web.views.state import FamilyState, SearchState
from web.views.terminal import text_of
from web.views.wording import Groups

VOCABULARY = load_vocabulary()
OWN = [term for term in VOCABULARY.of_kind("caution") if term.tell_owner]
GENERAL = next(term.tell_owner for term in OWN if term.concept == "mains")
SPARK = re.compile(r"plug|switch|fuse board", re.IGNORECASE)


def shown(bench: Bench, complaint: str) -> AnswerView:
    state = SearchState(q=complaint, mode="phone")
    return view_answer(ask(bench, state), state, bench)


def test_a_caution_by_another_of_its_names_is_told_like_any_other(tmp_path: Path) -> None:
    shutil.copytree(DEMO, tmp_path / "notebook")
    (path,) = (tmp_path / "notebook" / "families").glob("hv-l2.md")
    text = path.read_text(encoding="utf-8")
    named = re.sub(r"(?m)^caution: .*$", "caution: [hot water, live mains]", text)
    path.write_text(named, encoding="utf-8")
    client = create_app(Bench(Notebook(tmp_path / "notebook")), testing=True).test_client()
    for address in ("/api/search?q=dead&family=HV-L2", "/api/families/HV-L2"):
        said = client.get(address).json
        assert said
        assert {"scalding water", "mains"} <= set(said["caution"])
        assert any("scalding" in line for line in said["tell_owner"])


def told(view: AnswerView) -> tuple[str, ...]:
    return tuple(line for _, lines in view.owner for line in lines)


@pytest.fixture(scope="module")
def bench(demo_bench: Bench) -> Bench:
    return demo_bench


@pytest.fixture(scope="module")
def answer(bench: Bench) -> Answer:
    """Return an answer with a note of a family that asks for the plug."""
    advice = (
        Advice("Unplug it", "HV-L2"),
        Advice("Flip the main breaker", "HV-L2"),
        Advice("Keep it dry", "HV-L2"),
    )
    return replace(ask(bench, SearchState(q="dead")), tell_owner=advice)


def advised(answer: Answer) -> Groups:
    return advise_owner(answer.caution, answer.tell_owner, VOCABULARY)


def with_hazards(answer: Answer, *kinds: str, likely: bool = True) -> Answer:
    return replace(answer, caution=tuple(Caution(kind=kind, says="", likely=likely) for kind in kinds))


def test_grave_hazards_have_sentences_for_the_owner() -> None:
    assert {term.concept for term in OWN} >= {
        "gas", "carbon monoxide", "lithium cells", "refrigerant", "water and mains", "earth missing",
        "fire risk", "scalding water", "microwave high voltage",
    }  # fmt: skip
    names = {term.concept for term in VOCABULARY.of_kind("caution")}
    assert {kind for term in OWN for kind in term.instead_of} <= names


@pytest.mark.parametrize("other", OWN, ids=lambda term: term.concept)
@pytest.mark.parametrize("likely", [True, False])
def test_beside_gas_nothing_else_names_a_plug_a_switch_or_the_fuse_board(
    answer: Answer, other: Term, likely: bool
) -> None:
    gas = VOCABULARY.term("caution", "gas")
    assert gas
    kinds = tuple(dict.fromkeys((other.concept, "mains", "gas")))
    owner = advised(with_hazards(answer, *kinds, likely=likely))
    # Who is dizzy gets out before anybody looks for gas.
    first = other.tell_owner if likely and other.concept == "carbon monoxide" else ()
    assert owner[0][1][: len(first + gas.tell_owner)] == first + gas.tell_owner
    lines = [line for _, group in owner for line in group]
    assert [line for line in lines if SPARK.search(line) and line not in gas.tell_owner] == []
    assert "Flip the main breaker" not in lines
    assert "Keep it dry" in lines


@pytest.mark.parametrize(
    "term", [term for term in OWN if term.concept != "mains"], ids=lambda term: term.concept
)
def test_own_sentences_come_first_and_those_they_replace_are_not_said(answer: Answer, term: Term) -> None:
    owner = advised(with_hazards(answer, "mains", term.concept))
    assert set(term.tell_owner) <= set(owner[0][1])
    if "mains" in term.instead_of:
        assert not set(GENERAL) - set(term.tell_owner) & set(owner[0][1])
        assert owner[0][1][: len(term.tell_owner)] == term.tell_owner


def test_hazard_that_is_only_possible_asks_nothing_of_the_owner(answer: Answer) -> None:
    assert (
        advised(with_hazards(answer, "microwave high voltage", likely=False))[0][1]
        == (advised(with_hazards(answer))[0][1])
    )


def test_smell_of_gas_sends_the_owner_out_and_asks_nothing(bench: Bench) -> None:
    for complaint in ("gas boiler no hot water, smells of gas", "washing machine smells of gas"):
        view = shown(bench, complaint)
        lines = told(view)
        assert "no flame" in lines[0]
        assert not [line for line in lines[1:] if SPARK.search(line)]
        assert any("gas emergency line" in line for line in lines)
        assert not view.questions
        assert not view.asks_flashes
        assert "ASK THE OWNER" not in text_of("answer", view=view)


@pytest.mark.parametrize("complaint", [
    "I can smell gas near the cooker but the hob is electric, it was burning low",
    "the hob sparks and smokes and the kitchen stinks of gas",
    "gas heater with a fan, the flame goes out, I can smell gas a bit",
    "there is a whiff of gas when the telly is switched on",
])  # fmt: skip
def test_smell_of_gas_comes_before_all_else_and_no_line_tells_of_a_plug(bench: Bench, complaint: str) -> None:
    view = shown(bench, complaint)
    assert view.answer.caution[0].kind == "gas"
    said = (*(each.says for each in view.answer.caution[1:]), *told(view)[1:])
    assert not [line for line in said if SPARK.search(line)]
    assert all(line[0].isupper() for line in said)
    answer = view.answer
    assert not any((view.steps, view.price, answer.before_power, answer.while_open, answer.causes))


@pytest.mark.parametrize(("complaint", "first"), [
    ("the microwave you fixed last year is sparking", "fire risk"),
    ("the telly that you mended last summer smokes", "fire risk"),
    ("e-bike charger gets hot and smells", "fire risk"),
    ("3D printer says thermal runaway", "fire risk"),
    ("electric blanket has a scorch mark near the plug", "fire risk"),
    ("vacuum robot battery is puffed up like a pillow", "lithium cells"),
    ("my power bank is swelling up and smells", "lithium cells"),
    ("I got a shock off the metal side of the dishwasher", "burn or shock"),
    ("the telly smoked last year, you mended it, now it is dark", "mains"),
    ("no smoke and no burnt smell, the telly is dark", "mains"),
    ("our LED TV is dead, no smell of gas", "mains"),
])  # fmt: skip
def test_hazard_of_today_comes_first_and_a_denied_one_not_at_all(
    bench: Bench, complaint: str, first: str
) -> None:
    kinds = [each.kind for each in shown(bench, complaint).answer.caution]
    assert kinds[0] == first
    assert first != "mains" or "last year" in complaint or not {"fire risk", "gas"} & {*kinds}


def test_owner_of_a_vague_complaint_is_asked_for_the_label_before_any_family_is_guessed(bench: Bench) -> None:
    view = shown(bench, "picture funny now and then")
    assert [family for family, _ in view.owner] == [""]
    assert "What does the label on the back say?" in text_of("answer", view=view)
    assert not view.price


@pytest.mark.parametrize("aid", ["wheelchair will not move", "nebuliser dead", "stairlift stops half way"])
def test_owner_of_what_a_life_depends_on_hears_of_the_maker_and_the_supplier(bench: Bench, aid: str) -> None:
    assert [line for line in told(shown(bench, aid)) if "maker" in line and "supplied" in line]


@pytest.mark.parametrize("complaint", [
    "gas boiler no hot water, smells of gas", "phone battery swollen", "wall clock stopped", "toaster dead",
    "washing machine leaks", "TV dead", "gives me a shock", "smoke from the toaster",
])  # fmt: skip
def test_nobody_is_asked_for_what_does_not_fit_the_set(bench: Bench, complaint: str) -> None:
    always = shown(bench, complaint).owner[0][1]
    assert always
    assert not re.search(r"remote control|\bpan\b|\blead\b|flash", " ".join(always))


@pytest.mark.parametrize(
    ("complaint", "asks"),
    [
        pytest.param("TV dead", True, id="TV"),
        pytest.param("microwave does not heat", False, id="no-light-that-flashes"),
        pytest.param("smoke from the TV", False, id="smoke"),
        pytest.param("TV gives me a shock", False, id="shock"),
        pytest.param("toaster dead", False, id="unmet"),
    ],
)
def test_flashes_are_asked_for_only_where_there_are_some_and_no_danger(
    bench: Bench, complaint: str, asks: bool
) -> None:
    view = shown(bench, complaint)
    assert view.asks_flashes is asks
    assert asks or BLINKING not in [each.concept for each in view.questions]
    assert asks or not [line for line in view.warnings if "blink count" in line]


@pytest.mark.parametrize("complaint", [
    "washing machine door won't open, still full of hot water",
    "washing machine leaves the washing in scalding water",
    "washing machine leaks",
])  # fmt: skip
def test_machine_with_water_warns_of_scalding_and_of_mains(bench: Bench, complaint: str) -> None:
    view = shown(bench, complaint)
    assert {"scalding water", "water and mains"} <= {each.kind for each in view.answer.caution if each.likely}
    assert any("scalding" in line for line in view.owner[0][1])
    assert any("wet" in line and "fuse board" in line for line in view.owner[0][1])


@pytest.mark.parametrize("complaint", [
    "the dishwasher gives a shock", "the washing machine leaks and smokes", "kettle wet, gives a shock",
    "microwave oven dead", "coffee machine smells of burning",
])  # fmt: skip
def test_no_sentence_is_said_twice(bench: Bench, complaint: str) -> None:
    view, client = shown(bench, complaint), create_app(bench, testing=True).test_client()
    page = html.unescape(
        client.get("/", query_string={"q": complaint}).text.partition('<div class="sheet"')[0]
    )
    text = " ".join(click.unstyle(text_of("answer", view=view)).split())
    always = view.owner[0][1]
    lines = [*always, *(line for family, group in view.owner if family for line in group)]
    said = [
        each
        for line in (*lines, *(each.says for each in view.answer.caution if each.likely))
        for each in sentences(line)
    ]
    assert len(said) > len(always)
    for each in (each for each in said if each.count(" ") > 2):
        assert (page.count(each), text.count(each)) == (1, 1), each


def test_sentence_about_it_keeps_what_it_speaks_of(bench: Bench) -> None:
    family = "Nobody takes the cover off at home. It stays dangerous with the plug out."
    answer = replace(bench.answer("microwave oven dead"), tell_owner=(Advice(family, "BW-M7"),))
    assert ("BW-M7", (family,)) in advised(answer)


def test_no_note_of_the_demo_tells_the_owner_what_its_hazards_tell_already(bench: Bench) -> None:
    for family in bench.knowledge.families:
        lines = family_view(bench, family, FamilyState()).owner[0][1]
        said = [each for line in lines for each in re.split(r"(?<=[.!?:])\s+", line)]
        alike = [
            pair
            for pair in combinations(said, 2)
            if fuzz.token_set_ratio(*pair, processor=utils.default_process)
            > 75  # one sentence in other words
        ]
        assert said
        assert alike == [], family


def sentences(text: str) -> list[str]:
    return [each.strip() for each in re.findall(r"[^.!?]+[.!?]", text)]


TRIED = "Try it in another wall socket, without the extension strip, before bringing it over."


@pytest.mark.parametrize("complaint", [
    "spilt water in it", "got juice in it, wont turn on", "big bang and tripped the house",
    "gives a tingle off the aerial plug", "smoke from the back and burning smell",
])  # fmt: skip
def test_dangerous_set_is_never_tried_again_whatever_a_family_advises(bench: Bench, complaint: str) -> None:
    view = shown(bench, f"TS-32S3 {complaint}")
    line = "Nobody tries it. After a bang never plug it in again."
    family = (Advice(TRIED), Advice(line), Advice("Plug it back in for a minute."), Advice("Turn it on"))
    always = advised(replace(view.answer, tell_owner=family))[0][1]
    assert not {TRIED, "Plug it back in for a minute.", "Turn it on"} & {*always}
    assert line in always
    assert re.search("switch|leave it off|pull the plug", " ".join(told(view)), re.IGNORECASE)


def test_set_is_left_off_also_where_its_model_is_known(bench: Bench) -> None:
    for model in ("TS-32S3", "HV-43L2", "OK-40K5", "TR-540R4", "CD-24D1"):
        assert told(shown(bench, f"{model} dead"))[0] == GENERAL[0]


@pytest.mark.parametrize("complaint", [
    "microwave keeps going when I open the door", "microwave still runs with the door open",
    "microwave door is bent and doesnt seal", "my microwave doesn't stop when you open it",
    "BW-M7 stays on when the door is opened", "the hinge of the microwave door is broken",
])  # fmt: skip
def test_microwave_that_leaks_is_not_used(bench: Bench, complaint: str) -> None:
    view = shown(bench, complaint)
    assert view.answer.caution[0].kind == "microwave leakage"
    assert "Do not use it" in view.answer.caution[0].says
    assert told(view)[0].startswith("Do not use it")


@pytest.mark.parametrize(("complaint", "wet"), [
    ("spilt water in the tv", True), ("the tv got wet", True), ("knocked over a glass of wine on it", True),
    ("cup of coffee went into the back of the receiver, hums now", True), ("tea poured over the amp", True),
    ("hair dryer fell in the bath", True), ("the radio got soaked on the terrace", True),
    ("phone fell in the toilet", False), ("no water in the tv", False), ("tv picture has a pale tint", False),
])  # fmt: skip
def test_liquid_in_a_set_on_the_mains_warns_of_both(bench: Bench, complaint: str, wet: bool) -> None:
    view = shown(bench, complaint)
    assert ("water and mains" in {each.kind for each in view.answer.caution}) is wet
    assert not wet or view.answer.caution[0].kind == "water and mains"
    assert not wet or any("however dry it looks" in line for line in told(view))


@pytest.mark.parametrize("complaint", [
    "hob wont switch off", "CI-60I6B will not turn off", "hob keeps heating by itself", "hob glass cracked",
    "there is a crack right across the glass of the hob",
])  # fmt: skip
def test_unsafe_hob_is_switched_off_where_it_is_wired(bench: Bench, complaint: str) -> None:
    view = shown(bench, complaint)
    assert view.answer.caution[0].kind == "unsafe hob"
    assert "Do not use it" in view.answer.caution[0].says
    assert "fuse board or its main switch" in told(view)[0]
    assert not re.search(r"magnet|\bpan\b|pull the plug", " ".join(told(view)), re.IGNORECASE)
    # Without danger, the pan is the first thing to try; the hob has no plug all the same.
    assert re.search("magnet", lines := " ".join(told(shown(bench, "hob does not see the pan"))))
    assert "by the plug" not in lines


def test_hot_plug_is_not_touched_before_its_circuit_is_off(bench: Bench) -> None:
    view = shown(bench, "dehumidifer plug is brown and hot, smells of burning plastic")
    assert "Check plug, lead and socket first" in view.answer.caution[1].says
    assert "fuse board first" in told(view)[0]
    assert not re.search(r"pull the plug", " ".join(told(view)), re.IGNORECASE)


def test_steam_that_burned_somebody_is_under_pressure_and_the_burn_is_cooled_first(bench: Bench) -> None:
    view = shown(bench, "coffee maker hissing steam out the bottom and burnt my hand")
    assert [each.kind for each in view.answer.caution[:2]] == ["burn or shock", "steam pressure"]
    assert "Cool any burn" in told(view)[0]
    assert "doctor" in told(view)[1]
    assert view.answer.caution[0].says.index("cool") < view.answer.caution[0].says.index("doctor")


def test_only_family_of_a_device_is_called_so_and_has_no_share(bench: Bench) -> None:
    complaint = "microwave does not heat"
    page = create_app(bench, testing=True).test_client().get("/", query_string={"q": complaint})
    for said in (page.text, click.unstyle(text_of("answer", view=shown(bench, complaint)))):
        assert "only microwave oven family in this notebook" in " ".join(said.split())
    assert "only LED TV family" not in text_of("answer", view=shown(bench, "TV is dark"))


def test_sheet_marks_a_check_of_another_family_as_the_screen_does(bench: Bench) -> None:
    complaint = "wine over it, glass cracked"
    page = create_app(bench, testing=True).test_client().get("/", query_string={"q": complaint})
    sheet = html.unescape(page.text.partition('<div class="sheet"')[2])
    notes = [note for step in shown(bench, complaint).steps[:7] for note in step.notes]
    assert notes
    assert all(f"({note})" in sheet for note in notes)


@pytest.mark.parametrize("complaint", ["paraffin heater makes us dizzy", "gas fire gives us headaches"])
def test_whoever_is_dizzy_goes_out_before_anybody_looks_for_gas(bench: Bench, complaint: str) -> None:
    view = shown(bench, complaint)
    assert [each.kind for each in view.answer.caution[:2]] == ["carbon monoxide", "gas"]
    assert "fresh air at once" in told(view)[0]
