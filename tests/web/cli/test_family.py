"""`benchlore family`: the same figures in the terminal."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from flask.testing import FlaskClient

from web.cli.main import main


def run(root: Path, *arguments: str) -> Result:
    return CliRunner().invoke(main, ["family", "--notebook", str(root), *arguments])


def test_family_in_json_is_what_the_page_for_programs_answers(root: Path, client: FlaskClient) -> None:
    result = run(root, "HV-L2", "--json")
    assert result.exit_code == 0
    assert json.loads(result.output) == client.get("/api/families/HV-L2").get_json()


def test_families_in_json_are_what_the_page_for_programs_answers(root: Path, client: FlaskClient) -> None:
    assert json.loads(run(root, "--json").output) == client.get("/api/families").get_json()


def test_family_says_cautions_first_and_then_all_the_rest(root: Path) -> None:
    text = run(root, "HV-L2").output
    headings = [
        "MAINS", "HV-L2 HALVERN LED TV", "BEFORE POWER", "WHAT IT IS KNOWN FOR", "BLINKS", "WEAK PARTS",
        "TELL THE OWNER", "WHAT TO QUOTE", "WHILE IT IS OPEN", "BOARDS", "THE SHOP'S OWN NOTES",
        "HOW SURE IS THIS?",
    ]  # fmt: skip
    places = [text.find(heading) for heading in headings]
    assert -1 not in places
    assert places == sorted(places)


def test_family_says_small_numbers_as_counts_with_their_interval(root: Path) -> None:
    text = run(root, "HV-L2").output
    # Wilson 95 % interval of 2 of 3, by hand: (2/3 + 0.640 -+ 0.725) / 2.280.
    assert "2 of 3 (21 to 94 %)" in text
    assert "67 %" not in text


def test_families_are_listed_with_their_figures(root: Path) -> None:
    lines = run(root).output.splitlines()
    assert [line.split()[0] for line in lines] == ["HV-L2", "TN-W2"]
    assert "3 of 3 cases fixed; usual fix 1 h 20 min" in lines[0]


def test_family_is_found_by_a_model(root: Path) -> None:
    assert "HV-L2 HALVERN LED TV" in run(root, "hv 43 l2").output


def test_family_counts_the_slice(root: Path) -> None:
    text = run(root, "HV-L2", "--since", "2026-05", "--model", "HV-49L2").output
    assert "HV-49L2, since 2026-05-01: 1 of 3 cases" in text


@pytest.mark.parametrize(
    ("arguments", "remedy"),
    [
        pytest.param(["HV-L3"], "did you mean HV-L2?", id="one-off"),
        pytest.param(["hv l2x"], "did you mean HV-L2?", id="spaced"),
        pytest.param(["quite unlike"], "benchlore family lists them all", id="unlike-all"),
    ],
)
def test_unknown_family_ends_with_one_and_a_remedy(root: Path, arguments: list[str], remedy: str) -> None:
    result = run(root, *arguments)
    assert result.exit_code == 1
    assert remedy in result.output


def test_day_that_cannot_be_read_is_refused(root: Path) -> None:
    result = run(root, "HV-L2", "--since", "lately")
    assert result.exit_code == 2
    assert "2025-06-30" in result.output


def test_quote_takes_the_parts_into_account(root: Path) -> None:
    (root / "shop.toml").write_text('labour_rate = 60\ncurrency = "crowns"\n', encoding="utf-8")
    plain = json.loads(run(root, "HV-L2", "--json").output)["quote"]
    dearer = json.loads(run(root, "HV-L2", "--json", "--parts-cost", "15,50").output)["quote"]
    assert dearer["median"] == pytest.approx(plain["median"] + 15.5)
    assert dearer["sentence"] in " ".join(run(root, "HV-L2", "--parts-cost", "15.5").output.split())
