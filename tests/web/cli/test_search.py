"""`benchlore search`: what the terminal admits, and the owner's answers to questions."""

import html
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.notebook import Notebook
from search.answering.answer import CauseAnswer
from search.bench import Bench
from tests.search.small_shop import small_shop
from web.app import create_app
from web.cli.main import main
from web.views import wording


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_shop(tmp_path_factory.mktemp("shop")).root


def said(root: Path, *arguments: str) -> str:
    result = CliRunner().invoke(main, ["search", "--notebook", str(root), *arguments])
    assert result.exit_code == 0, result.output
    return " ".join(result.output.split())


def test_terminal_says_first_that_a_device_was_never_met(root: Path) -> None:
    text = said(root, "the kettle is dead")
    assert "No repair of a kettle in this notebook yet." in text
    assert "PRICE AND TIME No price: the notebook has no repair of a kettle." in text
    assert "CHECK IN THIS ORDER" not in text


def test_terminal_says_why_and_what_speaks_against_a_cause(root: Path) -> None:
    text = said(root, "Halvern telly is dark but has sound, five flashes")
    assert "of its 4 cases" in text
    assert "against it: blinks 6 noted in 4 cases" in text


def test_terminal_opens_the_set_once(root: Path) -> None:
    assert "Open the set" in said(root, "dark", "--family", "HV-L2")
    assert "Open the set" not in said(root, "dark", "--family", "HV-L2", "--rule-out", "PFC MOSFET shorted")


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        pytest.param("PFC mosfet shortd", 'Did you mean "PFC MOSFET shorted"', id="slip"),
        pytest.param("mosfet", 'Did you mean "PFC MOSFET shorted"', id="one-word-of-it"),
    ],
)
def test_near_name_is_offered_for_a_cause_that_nobody_knows(root: Path, typed: str, offered: str) -> None:
    assert offered in said(root, "dark", "--family", "HV-L2", "--rule-out", typed)
    page = (
        create_app(Bench(Notebook(root)), testing=True).test_client().get(f"/?q=dark&rule_out={typed}").text
    )
    assert offered in html.unescape(page)


def test_nothing_is_offered_for_a_cause_unlike_all(root: Path) -> None:
    text = said(root, "dark", "--family", "HV-L2", "--rule-out", "xyzzy")
    assert "so it rules nothing out." in text
    assert "Did you mean" not in text


def test_answers_of_the_owner_are_read_and_not_asked_again(root: Path) -> None:
    answer = json.loads(said(root, "it fails", "--yes", "no power", "--no", "hum", "--json"))
    assert "no power" in answer["reading"]["concepts"]
    assert not {"no power", "hum"} & {each["concept"] for each in answer["questions"]}


def test_literal_takes_nothing_as_denied(root: Path) -> None:
    assert json.loads(said(root, "telly dead, no loud hum", "--json"))["reading"]["denied"]
    assert json.loads(said(root, "telly dead, no loud hum", "--literal", "--json"))["reading"]["denied"] == []


def test_damage_found_while_a_cause_is_told_is_tried_again(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    say_why, distrusted = wording.say_why, []

    def reading(cause: CauseAnswer, family: str) -> str:
        if not distrusted:
            raise KeyError("of a damaged note")
        return say_why(cause, family)

    def distrust(bench: Bench) -> bool:
        distrusted.append(bench)
        return True

    monkeypatch.setattr(wording, "say_why", reading)
    monkeypatch.setattr(Bench, "distrust", distrust)
    assert "LIKELY CAUSES" in said(root, "Halvern telly is dark but has sound")
    assert len(distrusted) == 1
