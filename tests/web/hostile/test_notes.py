"""Notes that somebody else wrote, to do harm or by accident: shown as text, told, and never run."""

import csv
import io
import json
from pathlib import Path
from urllib.parse import urljoin

import pytest
from flask.testing import FlaskClient

from kb.attention import Attention
from kb.exchange.rows import Plan, guess_mapping, read_header
from kb.exchange.transfer import export_cases, import_table
from kb.notebook import Notebook
from kb.notes.family import FamilyNote
from kb.storage.writing import save_new_case

from ..conftest import CASES
from ..notes import a_note
from ..reading_pages import Page

PROBE = "</title></textarea></script>\"'><probe onload=1 x=\"'><script>probe</script>"


def crawl(client: FlaskClient, first: list[str], most: int) -> dict[str, Page]:
    """Follow the links of pages from page to page, and return up to `most` of them."""
    pages: dict[str, Page] = {}
    waiting = list(first)
    while waiting and len(pages) < most:
        path = waiting.pop(0)
        if path in pages or path.startswith("/static/"):
            continue
        response = client.get(path)
        assert response.status_code < 500, path
        if response.mimetype == "text/html":
            pages[path] = Page(response.text)
            links = [urljoin(path, link) for link in pages[path].links()]
            waiting += [link.partition("#")[0] for link in links if link.startswith("/")]
    return pages


@pytest.fixture
def poisoned(root: Path) -> Path:
    """Put a probe into every field of a case, a family, the shop's words, and the name of a note."""
    names = "device make model complaint root_cause board check fix proof tech chassis_family"
    text = {name: f"{name} {PROBE}" for name in names.split()}
    lists = {name: [f"{name} {PROBE}"] for name in ("symptom", "parts", "caution")}
    body = (
        f"{PROBE}\n\n[a](javascript:probe) ![b](data:text/html,probe) <{PROBE}> [c](https://probe.example/)\n"
    )
    note = a_note(**text, **lists, blinks="3", body=body, comeback_of=PROBE, **{f"shelf {PROBE}": PROBE})
    nb = Notebook(root)
    saved = save_new_case(nb, note)
    save_new_case(nb, note.model_copy(update={"case": "", "comeback_of": saved.case}))
    family = FamilyNote(
        chassis_family=f"chassis_family {PROBE}", device=text["device"], make=text["make"],
        models=(text["model"],), before_power=(PROBE,), tell_owner=(PROBE,), while_open=(PROBE,),
        caution=(PROBE,), blink_meaning={"3": PROBE}, boards=(PROBE,), body=body,
    )  # fmt: skip
    (root / "families/poison.md").write_text(family.as_text(), encoding="utf-8")
    words = json.dumps(PROBE)
    (root / "terms.toml").write_text(
        f'[[group]]\nconcept = {words}\nkind = "caution"\nphrases = [{words}]\nsays = {words}\n'
        f'[[group]]\nconcept = "sooty"\nkind = "symptom"\nphrases = [{words}]\n',
        encoding="utf-8",
    )
    (root / "shop.toml").write_text(f"labour_rate = 40\ncurrency = {words}\n", encoding="utf-8")
    (root / "cases/2026/<probe onload=1>.md").write_text(PROBE, encoding="utf-8")
    return root


@pytest.mark.usefixtures("poisoned")
def test_nothing_a_note_says_is_ever_run(client: FlaskClient) -> None:
    query = {"q": f"dead three flashes {PROBE}", "family": PROBE, "rule_out": [PROBE, f"root_cause {PROBE}"]}
    asked: list[str] = []
    for key, value in (("q", query["q"]), ("blinks", PROBE), ("family", PROBE)):
        response = client.get("/", query_string={**query, key: value})
        assert Page(response.text).harm() == []
        asked += Page(response.text).links()
    asked += ["/?q=dead", "/families/", "/weak-points", "/attention", "/about", "/cases/new", "/families/new"]
    pages = crawl(client, [path for path in asked if path.startswith("/")], 120)
    assert {path: page.harm() for path, page in pages.items() if page.harm()} == {}
    # The probe was there to be shown, on pages of every kind.
    shown = [path for path, page in pages.items() if "<probe onload=1" in page.text]
    kinds = {path.split("?")[0].split("/")[1] for path in shown}
    assert {"", "cases", "families", "attention"} <= kinds


@pytest.mark.usefixtures("poisoned")
def test_json_is_never_taken_for_a_page(client: FlaskClient) -> None:
    for path in ("/api/search?q=dead", "/api/families", "/api/suggest?field=root_cause&text=root", "/api/x"):
        response = client.get(path)
        assert response.mimetype == "application/json"
        assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert "probe" in client.get("/api/search?q=dead").text


BOMB = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{new}: &{new} [{', '.join([f'*{old}'] * 9)}]\n" for old, new in zip("abcdefgh", "bcdefghi", strict=True)
)
MERGE_BOMB = "a: &a {x: 1}\nb: &b {<<: *a, c: *a}\nc: {<<: [*b, *b, *b]}\n"


@pytest.mark.parametrize(
    ("head", "told"),
    [
        pytest.param(BOMB, "a YAML alias", id="aliases-of-aliases"),
        pytest.param(MERGE_BOMB, "a YAML alias", id="merge-keys"),
        pytest.param("a: &a [*a]\n", "a YAML alias", id="a-list-within-itself"),
        pytest.param("a: " + "[" * 50_000 + "\n", "nested too deeply", id="brackets"),
        pytest.param("a: " + "{b: " * 50_000 + "\n", "nested too deeply", id="braces"),
        pytest.param("a: " + "- " * 50_000 + "\n", "a: ", id="dashes"),
        pytest.param("? " * 50_000 + "\n", ":2: ", id="question-marks"),
        pytest.param('a: !!python/object/apply:os.system ["true"]\n', "device: nothing", id="python-tag"),
        pytest.param("tech: R\u2028K\n", "control character '\\u2028'", id="line-separator"),
        pytest.param("tech: R\x85K\n# one\n", "control character '\\x85'", id="next-line"),
        pytest.param("complaint: " + "loud " * 1001 + "\n", "at most 5,000 characters", id="endless-field"),
        pytest.param("caution: [" + "hot, " * 501 + "]\n", "write at most 500 items", id="endless-list"),
        pytest.param("tech: \x1b]0;R\x07\n", "control character '\\x1b'", id="terminal-command"),
        pytest.param("loud hum\n" * 10_000, '"loud hum"', id="trouble-on-each-of-many-lines"),
    ],
)
def test_odd_front_matter_is_told(root: Path, client: FlaskClient, head: str, told: str) -> None:
    (root / "cases/2026/20260621-0dd0.md").write_text(f"---\n{head}---\nquiet whirring\n", encoding="utf-8")
    said = [str(problem) for problem in Attention(Notebook(root)).problems() if "0dd0" in problem.file]
    assert any(told in line for line in said), said
    assert all(line.isprintable() for line in said)
    assert len(said) < 250
    assert client.get("/attention").status_code == 200
    assert client.get("/cases/20260621-0dd0", follow_redirects=True).status_code == 200
    found = client.get("/api/search", query_string={"q": "whirring"}).json
    assert found is not None
    assert set(CASES) == {case["case"] for case in client.get("/api/search?limit=200").json["cases"]}  # type: ignore[index]


def test_of_a_very_long_complaint_the_beginning_is_read(client: FlaskClient) -> None:
    words = "dead, three flashes " + "and then nothing " * 50_000
    answer = client.get("/api/search", query_string={"q": words}).json
    assert answer is not None
    assert answer["reading"]["blinks"] == "3"
    assert "Only the first 4,000 characters" in client.get("/", query_string={"q": words}).text


def test_endless_body_is_shown_as_it_stands(root: Path, client: FlaskClient) -> None:
    note = save_new_case(Notebook(root), a_note(body=f"*dry* <probe> {'joint ' * 40_000}"))
    page = Page(client.get(f"/cases/{note.case}").text)
    assert page.harm() == []
    assert "*dry* <probe> joint" in page.text


def test_note_of_fifty_megabytes_is_told_and_passed_over(root: Path, client: FlaskClient) -> None:
    with (root / "cases/2026/20260621-b1gg.md").open("wb") as stream:
        stream.truncate(50_000_000)  # takes no room on the disk
    assert "larger than 2,000,000 bytes" in client.get("/attention").text
    assert client.get("/api/search?q=dead").status_code == 200
    assert client.get("/cases/20260621-b1gg", follow_redirects=True).status_code in (200, 422)


FORMULAS = [
    "=1+1",
    "+12 V missing",
    "-5 V missing",
    "@SUM(1)",
    "'=1",
    "''+1",
    "'tis dead",
    "\u2212 5",
    "\uff1d1+1",
    "=cmd|'/c x'!A1",
]


def test_exported_cells_are_no_formulas_and_come_back_as_they_were(root: Path, tmp_path: Path) -> None:
    nb = Notebook(root)
    saved = [
        save_new_case(nb, a_note(complaint=text, parts=[text], body=f"{text}\n- one", **{f"={n}": text}))
        for n, text in enumerate(FORMULAS)
    ]
    stream = io.StringIO(newline="")
    export_cases(nb, "csv", stream)
    rows = list(csv.reader(io.StringIO(stream.getvalue(), newline="")))
    assert [cell for row in rows for cell in row if cell.startswith(("=", "+", "-", "@", "\t", "\r"))] == []
    table = tmp_path / "all.csv"
    table.write_text(stream.getvalue(), encoding="utf-8", newline="")
    (tmp_path / "other/cases").mkdir(parents=True)
    other = Notebook(tmp_path / "other")
    report = import_table(other, table, Plan(columns=guess_mapping(read_header(table))), dry_run=False)
    assert report.rejected == 0
    for note in saved:
        assert other.read_case(f"cases/2026/{note.case}.md") == note
