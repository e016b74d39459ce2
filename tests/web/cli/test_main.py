"""The command line: one entry point, tested as a contract."""

import importlib.metadata
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from kb.notebook import DEMO
from kb.notes.case import CaseNote
from web.cli.main import COMMANDS, main
from web.cli.serve import address
from web.server.security import is_this_computer

README = Path(__file__).parents[3] / "README.md"


@pytest.fixture
def run(root: Path, monkeypatch: pytest.MonkeyPatch) -> CliRunner:
    """Return a runner whose commands work on the small notebook."""
    monkeypatch.setenv("BENCHLORE_NOTEBOOK", str(root))
    return CliRunner()


@pytest.mark.parametrize("name", COMMANDS)
def test_command_explains_itself(name: str) -> None:
    result = CliRunner().invoke(main, [name, "--help"])
    assert result.exit_code == 0
    command = main.get_command(click.Context(main), name)
    assert command is not None
    assert (command.help or "").startswith(COMMANDS[name][1])
    assert all(option.help for option in command.params if isinstance(option, click.Option))


@pytest.mark.parametrize("name", COMMANDS)
def test_readme_names_the_command(name: str) -> None:
    assert f"benchlore {name}" in README.read_text(encoding="utf-8")


def test_help_lists_every_command() -> None:
    result = CliRunner().invoke(main, ["--help"])
    for name, (_, short) in COMMANDS.items():
        assert name in result.output
        assert short in result.output


def test_version_is_the_installed_one() -> None:
    result = CliRunner().invoke(main, ["--version"])
    assert result.output.strip() == f"benchlore {importlib.metadata.version('benchlore')}"


def test_search_says_cautions_first(run: CliRunner) -> None:
    result = run.invoke(main, ["search", "HV-43L2", "dead,", "three", "flashes"])
    assert result.exit_code == 0
    assert result.output.index("MAINS") < result.output.index("BEFORE POWER")
    assert result.output.index("BEFORE POWER") < result.output.index("LIKELY CAUSES")
    assert "PFC MOSFET shorted" in result.output
    assert "measure Q801 drain to source cold" in result.output
    assert "licensed" in result.output


def test_search_with_the_owner_on_the_line_says_what_to_tell_first(run: CliRunner) -> None:
    said = run.invoke(main, ["search", "telly", "dead", "three", "flashes", "--phone"]).output
    assert "No family is known; going by the causes: HV-L2 " in said
    assert said.index("MAINS") < said.index("No family is known") < said.index("TELL THE OWNER")
    assert said.index("TELL THE OWNER") < said.index("BEFORE POWER") < said.index("LIKELY CAUSES")
    assert "These checks find it: " in said


def test_search_json_is_what_the_page_answers(run: CliRunner) -> None:
    result = run.invoke(main, ["search", "dead three flashes", "--family", "HV-L2", "--json", "--limit", "1"])
    answer = json.loads(result.output)
    assert answer["reading"]["family"] == "HV-L2"
    assert len(answer["cases"]) == 1


def test_search_rules_out(run: CliRunner) -> None:
    result = run.invoke(main, ["search", "dead", "--rule-out", "PFC MOSFET shorted", "--json"])
    causes = {cause["root_cause"] for cause in json.loads(result.output)["causes"]}
    assert "PFC MOSFET shorted" not in causes
    assert causes


def test_search_asks_for_a_complaint(run: CliRunner) -> None:
    result = run.invoke(main, ["search"])
    assert result.exit_code == 2
    assert "Say what is wrong" in result.output


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        pytest.param(["search", "dead", "--blinks", "lots"], "lots", id="no-pattern"),
        pytest.param(["search", "dead", "--notebook", "/nowhere/at/all"], "no such folder", id="no-notebook"),
        pytest.param(["import", "/nowhere.csv"], "/nowhere.csv", id="no-file"),
        pytest.param(["export", "-o", "/nowhere/x.csv"], "/nowhere/x.csv: No such file", id="no-place"),
    ],
)
def test_trouble_is_one_message_and_exit_1(run: CliRunner, arguments: list[str], said: str) -> None:
    result = run.invoke(main, arguments)
    assert result.exit_code == 1
    assert said in result.output
    assert "Traceback" not in result.output


def test_check_lists_every_problem_and_fails(run: CliRunner, root: Path) -> None:
    path = root / "cases/2026/20260620-c5pp.md"
    path.write_text(path.read_text().replace("25 min", "soonish"))
    result = run.invoke(main, ["check"])
    assert result.exit_code == 1
    line = path.read_text().splitlines().index("fix_time: soonish") + 1
    assert f"cases/2026/20260620-c5pp.md:{line}: fix_time:" in result.output


def test_check_is_content_with_a_good_notebook(run: CliRunner, root: Path) -> None:
    (root / "cases/2026/20260620-c5pp.md").unlink()
    result = run.invoke(main, ["check"])
    assert result.exit_code == 0
    assert "nothing to put right" in result.output


def test_check_lists_causes_that_may_be_one_and_does_not_fail_for_them(run: CliRunner, root: Path) -> None:
    path = root / "cases/2026/20260402-m3xa.md"
    path.write_text(path.read_text().replace("PFC MOSFET shorted", "PFC switch MOSFET shorted"))
    (root / "cases/2026/20260620-c5pp.md").unlink()
    result = run.invoke(main, ["check"])
    assert result.exit_code == 0
    assert '"PFC MOSFET shorted" (1 case)' in result.output
    assert '"PFC switch MOSFET shorted" (1 case)' in result.output


@pytest.mark.parametrize("options", [[], ["--rebuild"]])
def test_index_says_what_is_held(run: CliRunner, options: list[str]) -> None:
    result = run.invoke(main, ["index", *options])
    assert result.exit_code == 0
    assert "4 repairs" in result.output


def test_export_and_import_carry_every_case_over(run: CliRunner, root: Path, tmp_path: Path) -> None:
    out = tmp_path / "cases.csv"
    assert run.invoke(main, ["export", "-o", str(out)]).exit_code == 0
    other = tmp_path / "other"
    (other / "cases").mkdir(parents=True)
    arguments = ["import", str(out), "--notebook", str(other)]
    dry = run.invoke(main, [*arguments, "--dry-run"])
    assert "4 cases would be imported" in dry.output
    assert "root_cause" in dry.output
    assert not list(other.rglob("*.md"))
    assert "4 cases imported" in run.invoke(main, arguments).output
    assert "0 cases imported, 4 already there" in run.invoke(main, arguments).output
    for path in (root / "cases/2026").iterdir():
        copied = other / "cases/2026" / path.name
        assert CaseNote.parse(copied.read_text(), file=path.name) == CaseNote.parse(
            path.read_text(), file=path.name
        )


def test_export_writes_json_lines(run: CliRunner) -> None:
    result = run.invoke(main, ["export", "--format", "jsonl"])
    lines = [json.loads(line) for line in result.stdout.splitlines()]
    assert [line["case"] for line in lines] == sorted(line["case"] for line in lines)
    assert lines[0]["shelf"] == "4b"


def test_import_maps_columns_and_rejects_bad_rows(run: CliRunner, root: Path, tmp_path: Path) -> None:
    table = tmp_path / "list.csv"
    table.write_text(
        "when,set,fam,what,why,mins\n"
        "2026-01-05,LED TV,HV-L2,dead,mains fuse open,20\n"
        "2026-01-06,LED TV,HV-L2,dead,mains fuse open,forever\n"
    )
    names = {"date": "when", "device": "set", "chassis_family": "fam", "symptom": "what", "root_cause": "why"}
    maps = [f"--map={field}={column}" for field, column in {**names, "fix_time": "mins"}.items()]
    result = run.invoke(main, ["import", str(table), *maps, "--set", "outcome=fixed"])
    assert "1 case imported" in result.output
    assert "1 row rejected" in result.output
    assert "line 3" in result.output
    assert "forever" in (tmp_path / "list.rejects.csv").read_text()
    assert any("mains fuse open" in path.read_text() for path in (root / "cases").rglob("*.md"))


def test_evaluate_prints_figures_on_a_list(run: CliRunner, tmp_path: Path) -> None:
    table = tmp_path / "list.csv"
    rows = [
        f"{words} {n},{cause}" for n in range(6) for words, cause in (("no sound", "a"), ("no light", "b"))
    ]
    table.write_text("said,was\n" + "\n".join(rows) + "\n")
    arguments = ["evaluate", "--csv", str(table), "--complaint", "said", "--cause", "was", "--folds", "2"]
    measured = json.loads(run.invoke(main, [*arguments, "--json"]).stdout)
    assert {
        "n",
        "top1",
        "top3",
        "mrr",
        "log_loss",
        "brier",
        "ece",
        "new_cause_share",
        "reliability",
    } <= measured.keys()
    assert (measured["n"], measured["top1"]) == (12, 1.0)
    assert "came true" in run.invoke(main, arguments).output


def test_evaluate_finds_columns_by_the_names_of_a_workshops_own_list(run: CliRunner, tmp_path: Path) -> None:
    table = tmp_path / "list.csv"
    table.write_text("Problem,Diagnosis\n" + "no sound,a\nno light,b\n" * 3)
    measured = run.invoke(main, ["evaluate", "--csv", str(table), "--folds", "2", "--json"])
    assert json.loads(measured.stdout)["n"] == 6


def test_evaluate_asks_for_a_column_it_does_not_find(run: CliRunner, tmp_path: Path) -> None:
    table = tmp_path / "list.csv"
    table.write_text("said,was\nno sound,a\n")
    result = run.invoke(main, ["evaluate", "--csv", str(table), "--complaint", "said"])
    assert result.exit_code == 1
    assert "list.csv:1: no column of causes; name it with --cause COL" in result.output


def editor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, changes: dict[str, str]) -> None:
    """Make $EDITOR a program that fills fields in."""
    script = tmp_path / "editor.py"
    script.write_text(
        "import re, sys\n"
        f"changes = {changes!r}\n"
        "text = open(sys.argv[1], encoding='utf-8').read()\n"
        "for field, said in changes.items():\n"
        "    text = re.sub(rf'(?m)^{field}:.*$', f'{field}: {said}', text)\n"
        "open(sys.argv[1], 'w', encoding='utf-8').write(text)\n"
    )
    monkeypatch.setenv("VISUAL", f'"{sys.executable}" "{script}"')
    monkeypatch.setenv("EDITOR", os.environ["VISUAL"])


FILLED = {"model": "HV-43L2", "symptom": "[dead]", "root_cause": "mains fuse open", "fix_time": "20 min"}


def test_new_saves_what_the_editor_filled_in(
    run: CliRunner, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    editor(tmp_path, monkeypatch, FILLED)
    result = run.invoke(main, ["new", "--from-search", "dead, three flashes"])
    assert result.exit_code == 0, result.output
    case_id = result.output.split("Saved as ")[1].split(":")[0]
    note = CaseNote.parse((root / f"cases/{case_id[:4]}/{case_id}.md").read_text(), file=f"{case_id}.md")
    assert (note.complaint, str(note.blinks), note.chassis_family) == ("dead, three flashes", "3", "HV-L2")
    assert (note.device, note.make, note.fix_time_min) == ("LED TV", "Halvern", 20)


def test_new_keeps_what_cannot_be_saved(
    run: CliRunner, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = sorted((root / "cases").rglob("*.md"))
    editor(tmp_path, monkeypatch, {**FILLED, "fix_time": "for ever"})
    result = run.invoke(main, ["new"], input="n\n")
    assert result.exit_code == 1
    assert "fix_time" in result.output
    (draft,) = (root / ".benchlore/drafts").iterdir()
    assert str(draft) in result.output.replace("\n", "")
    assert "for ever" in draft.read_text()
    assert sorted((root / "cases").rglob("*.md")) == before


def test_new_saves_nothing_when_nothing_is_filled_in(
    run: CliRunner, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = sorted((root / "cases").rglob("*.md"))
    editor(tmp_path, monkeypatch, {})
    assert "Nothing was filled in" in run.invoke(main, ["new"]).output
    assert sorted((root / "cases").rglob("*.md")) == before


@pytest.mark.parametrize(
    ("host", "port", "expected"),
    [
        ("127.0.0.1", 8571, "http://127.0.0.1:8571/"),
        ("0.0.0.0", 80, "http://127.0.0.1:80/"),
        ("::1", 8571, "http://[::1]:8571/"),
    ],
)
def test_serve_prints_an_address_that_opens_here(host: str, port: int, expected: str) -> None:
    assert address(host, port) == expected


@pytest.mark.parametrize(
    ("host", "local"), [("127.0.0.1", True), ("::1", True), ("0.0.0.0", False), ("localhost", True)]
)
def test_serve_knows_whom_it_serves(host: str, local: bool) -> None:
    assert is_this_computer(host) is local


def test_serve_says_where_to_go_when_no_browser_opens() -> None:
    code = "from web.cli.serve import show_page; show_page('http://127.0.0.1:8571/')"
    done = subprocess.run(
        [sys.executable, "-c", code], env={"PATH": ""}, capture_output=True, check=True, text=True
    )
    assert "open http://127.0.0.1:8571/" in done.stderr


def test_search_starts_without_the_server() -> None:
    code = "import sys, web.cli.search; sys.exit('flask' in sys.modules or 'waitress' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_import_refuses_a_field_that_no_note_has(tmp_path: Path) -> None:
    table = tmp_path / "jobs.csv"
    table.write_text("Day\n2026-01-01\n", encoding="utf-8")
    result = CliRunner().invoke(main, ["import", str(table), "--demo", "--map", "rootcause=Day"])
    assert result.exit_code == 2
    assert "did you mean root_cause?" in result.output


def test_import_reads_job_notes_and_a_second_run_adds_nothing(tmp_path: Path) -> None:
    (tmp_path / "nb/cases").mkdir(parents=True)
    shutil.copytree(DEMO / "families", tmp_path / "nb/families")
    table = tmp_path / "jobs.csv"
    table.write_text(
        'Date,Job notes\n2026-01-01,"HV-43L2 dead 3 blinks, Q801 gone, 55 min"\n2026-01-02,thanks\n',
        encoding="utf-8",
    )
    words = ["import", str(table), "--notebook", str(tmp_path / "nb")]
    first = CliRunner().invoke(main, words)
    assert "from column Job notes: HV-43L2 dead 3 blinks" in first.output
    assert "1 case imported, 0 already there, 1 row rejected" in first.output
    assert "fix_time: read from the free text of 1 row" in first.output
    assert "0 cases imported, 1 already there" in CliRunner().invoke(main, words).output
