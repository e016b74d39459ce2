"""A family's figures equal those worked out slowly from the note files.

Here for made-up notebooks; tests/web/api/test_families.py holds every family of the demo to them.
"""

import datetime
import random
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from kb.notebook import Notebook
from kb.notes.case import CaseNote
from kb.notes.family import FamilyNote
from kb.terms import Vocabulary, load_vocabulary
from search.bench import Bench
from search.families.family_figures import families_overview, family_figures
from search.families.trends import weak_points
from search.index.case_table import CaseTable
from tests.search.family_slow import DEMO_FAMILIES, SlowNotebook
from tests.search.tables import table_from_cases


class Folder:
    """A notebook as the product and as the slow script read it."""

    def __init__(self, bench: Bench, slow: SlowNotebook) -> None:
        self.table: CaseTable = bench.knowledge.table
        self.notes: dict[str, FamilyNote] = bench.notebook.families()
        self.vocabulary: Vocabulary = bench.notebook.vocabulary()
        self.slow = slow

    def figures(self, family: str, **cut: Any) -> dict[str, Any]:
        note = self.notes.get(family)
        return family_figures(self.table, family, note=note, vocabulary=self.vocabulary, **cut).as_json()


@pytest.fixture(scope="module")
def demo(demo_bench: Bench, slow_demo: SlowNotebook) -> Folder:
    return Folder(demo_bench, slow_demo)


def assert_equal(ours: Any, slow: Any, where: str = "figures") -> None:
    """Compare every number, text and list of the slow script with ours; rounding of the last digits apart."""
    if isinstance(slow, dict):
        for key, value in slow.items():
            assert_equal(ours[key], value, f"{where}.{key}")
    elif isinstance(slow, list):
        assert len(ours) == len(slow), where
        for i, (one, other) in enumerate(zip(ours, slow, strict=True)):
            assert_equal(one, other, f"{where}[{i}]")
    elif isinstance(slow, float):
        assert ours == pytest.approx(slow, rel=1e-6, abs=1e-9), where
    else:
        assert ours == slow, where


def compare(folder: Folder, family: str, **cut: Any) -> None:
    since = cut.get("since")
    ours = folder.figures(family, **cut)
    slow = folder.slow.figures(family, **{**cut, "since": since.isoformat() if since else ""})
    ours["checks"] = [check["root_cause"] for check in ours["checks"]]
    assert_equal(ours, slow)


def test_demo_families_are_the_ones_tested(demo: Folder) -> None:
    assert demo.slow.families() == sorted(demo.notes) == sorted(DEMO_FAMILIES)


CAUSES = ["fuse open", "fan seized", "joint dry", "relay stuck", "lamp burnt", "cable worn"]
PARTS = ["F1 T4A", "Q1 20N60C3", "fan 12V", "tact switch x2", "C9 1000uF 16V", "C8 1000UF 16V"]


def write_notebook(root: Path, seed: int) -> None:
    """Write a made-up notebook: uneven, with comebacks, missing fields and every spelling of a time."""
    rng = random.Random(seed)
    first, known = datetime.date(2023, 1, 1), []
    for number in range(rng.randint(1, 90)):
        day = first + datetime.timedelta(days=rng.randint(0, 1200))
        name = f"{day:%Y%m%d}-{number:04d}"
        family = rng.choice("ABC")
        lines = {
            "case": name,
            "date": day.isoformat(),
            "device": "LED TV",
            "make": "Halvern",
            "model": rng.choice([f"{family}-1", f"{family}-2", ""]),
            "chassis_family": family,
            "symptom": "[dead]",
            "blinks": rng.choice(["", "3", "3 or 4", "2+3"]),
            "root_cause": rng.choices(CAUSES, [9, 5, 3, 1, 1, 1])[0],
            "board": rng.choice(["", "power supply", "PSU", "main board"]),
            "check": rng.choice(["", "Q1 measured", "tried another HDMI cable"]),
            "check_time": rng.choice(["", "5 min", "12 min", "PT3M"]),
            "parts": "[" + ", ".join(rng.sample(PARTS, rng.randint(0, 3))) + "]",
            "fix_time": rng.choice(["25", "1 h", "1:10", "PT1H20M", "40 min", "55 min", "2 h 5 min"]),
            "outcome": rng.choice(["fixed"] * 6 + ["not fixed", "not economic", "no fault found"]),
            "comeback_of": rng.choice(known) if known and rng.random() < 0.15 else "",
        }
        known.append(name)
        path = root / "cases" / f"{day:%Y}" / f"{name}.md"
        path.parent.mkdir(parents=True, exist_ok=True)
        front = "".join(f"{key}: {value}\n" for key, value in lines.items() if value)
        path.write_text(f"---\n{front}---\nBody.\n", encoding="utf-8")
    (root / "families").mkdir(parents=True)
    (root / "families" / "a.md").write_text(
        "---\nchassis_family: A\ndevice: LED TV\nopening_time: 15 min\nboards: [key board]\n"
        'blink_meaning:\n  "7": panel supply\n---\n',
        encoding="utf-8",
    )


@pytest.mark.parametrize("seed", range(6))
def test_every_figure_of_a_made_up_notebook_equals_the_slow_one(tmp_path: Path, seed: int) -> None:
    write_notebook(tmp_path, seed)
    folder = Folder(Bench(Notebook(tmp_path)), SlowNotebook(tmp_path, load_vocabulary()))
    for family in folder.slow.families():
        compare(folder, family)
        compare(folder, family, outcome="not fixed")
        compare(folder, family, model=f"{family}-1", since=datetime.date(2024, 1, 1))


def case(number: int, day: str, **changes: Any) -> CaseNote:
    fields = {
        "device": "LED TV", "make": "Halvern", "chassis_family": "HV-L2", "symptom": ["dead"],
        "root_cause": "fuse open", "fix_time": "30 min", "outcome": "fixed",
    } | changes  # fmt: skip
    front = "".join(f"{key}: {value}\n" for key, value in fields.items())
    name = f"{day.replace('-', '')}-{number:04d}"
    return CaseNote.parse(f"---\ncase: {name}\ndate: {day}\n{front}---\n", file=f"{name}.md")


def test_share_of_few_cases_is_not_shown_as_a_percentage() -> None:
    cases = [case(i, "2026-01-05") for i in range(4)]
    few = family_figures(table_from_cases(cases), "HV-L2").as_json()
    assert (few["success"], few["success_shown"], few["causes"][0]["share_shown"]) == (1.0, False, False)
    enough = family_figures(table_from_cases([*cases, case(9, "2026-01-05")]), "HV-L2").as_json()
    assert (enough["success_shown"], enough["causes"][0]["share_shown"]) == (True, True)


def test_comebacks_of_a_cause_need_five_fixed_cases() -> None:
    cases = [case(i, "2025-01-05") for i in range(4)] + [case(8, "2025-02-04", comeback_of="20250105-0000")]
    four = family_figures(table_from_cases([*cases[:4], case(9, "2026-01-05", outcome="not fixed")]), "HV-L2")
    assert four.causes[0].comeback is None
    five = family_figures(table_from_cases([*cases, case(9, "2026-01-05", root_cause="fan seized")]), "HV-L2")
    assert five.causes[0].comeback is not None
    assert five.causes[0].comeback.rate == pytest.approx(1 / 5)


def test_comebacks_are_censored_at_the_notebooks_newest_note_of_any_family() -> None:
    cases = [case(i, "2025-01-05") for i in range(5)]
    assert family_figures(table_from_cases(cases), "HV-L2").comeback.rate is None
    other = case(9, "2025-06-05", chassis_family="OS-K5")
    assert family_figures(table_from_cases([*cases, other]), "HV-L2").comeback.rate == 0.0


def test_a_comeback_dated_before_its_repair_does_not_count() -> None:
    cases = [case(i, "2025-03-05") for i in range(5)]
    early = case(8, "2025-02-04", comeback_of="20250305-0000")
    late = case(9, "2026-01-05", root_cause="fan seized")
    assert family_figures(table_from_cases([*cases, early, late]), "HV-L2").comeback.comebacks == 0


def test_dead_and_unreadable_rows_do_not_count() -> None:
    table = table_from_cases([case(i, "2026-01-05") for i in range(5)])
    table.alive = table.alive.copy()
    table.alive[0] = False
    table.readable = table.readable.copy()
    table.readable[1] = False
    assert family_figures(table, "HV-L2").success.total == 3


def test_fix_time_is_that_of_the_fixed_else_of_all() -> None:
    cases = [case(1, "2026-01-05"), case(2, "2026-01-06", fix_time="90 min", outcome="not economic")]
    figures = family_figures(table_from_cases(cases), "HV-L2")
    assert figures.fix_time is not None
    assert figures.fix_time.median == 30
    given_up = family_figures(table_from_cases(cases), "HV-L2", outcome="not economic")
    assert given_up.fix_time is not None
    assert given_up.fix_time.median == 90
    assert given_up.past.count == 1


def test_family_without_cases_has_its_note_and_no_figures(demo: Folder) -> None:
    note = demo.notes["HV-L2"]
    figures = family_figures(
        table_from_cases([case(1, "2026-01-05", chassis_family="X")]), "HV-L2", note=note
    )
    assert (figures.success.total, figures.causes, figures.years) == (0, (), ())
    assert figures.note.before_power == note.before_power
    assert figures.bench_time is not None
    assert figures.bench_time.median == 14 + 30
    empty = family_figures(table_from_cases([]), "nothing")
    assert (empty.success.total, empty.bench_time, empty.as_json()["expected_minutes"]) == (0, None, None)


def test_family_name_forgives_case() -> None:
    figures = family_figures(table_from_cases([case(1, "2026-01-05")]), "hv-l2")
    assert (figures.chassis_family, figures.success.total) == ("HV-L2", 1)


def test_boards_of_one_kind_are_one_board_under_its_usual_name() -> None:
    cases = [
        case(i, "2026-01-05", board=board) for i, board in enumerate(["PSU", "power supply", "power supply"])
    ]
    figures = family_figures(table_from_cases(cases), "HV-L2", vocabulary=load_vocabulary())
    assert [(board.board, board.cases) for board in figures.boards] == [("power supply", 3)]
    assert "psu" in figures.boards[0].other_names
    points = weak_points(table_from_cases(cases), vocabulary=load_vocabulary())
    assert [(board.name, board.share.count) for board in points.boards] == [("power supply", 3)]


def test_spellings_of_one_cause_are_counted_together_under_the_usual_one() -> None:
    said = [
        "LED strip open",
        "LED strip open circuit",
        "LED strip open circuit",
        "open LED strips",
        "fuse open",
    ]
    notes = [
        case(i, "2026-01-05", root_cause=cause, blinks=6, chassis_family="HV-L2" if i else "OS-K5")
        for i, cause in enumerate([*said, *said])
    ]
    table = table_from_cases(notes)
    figures = family_figures(table, "HV-L2")
    strips, fuse = figures.causes
    assert (strips.root_cause, strips.share.count) == ("LED strip open circuit", 7)
    assert strips.spellings == ("LED strip open",)  # the same words in another order are one name anyway
    assert (fuse.root_cause, fuse.spellings, fuse.share.count) == ("fuse open", (), 2)
    assert [(cause, share.count) for cause, share in figures.blinks[0].causes] == [
        ("LED strip open circuit", 7), ("fuse open", 2),
    ]  # fmt: skip
    points = weak_points(table)
    assert [(cause.name, cause.share.count) for cause in points.causes] == [("LED strip open circuit", 8)]
    assert [(trend.root_cause, sum(trend.counts)) for trend in points.trends] == [
        ("LED strip open circuit", 8)
    ]


def test_overview_equals_the_slow_figures(demo: Folder) -> None:
    lines = [line.as_json() for line in families_overview(demo.table, demo.notes)]
    assert [(line["make"], line["device"], line["chassis_family"]) for line in lines] == sorted(
        ((note.make, note.device, name) for name, note in demo.notes.items()),
        key=lambda line: [said.casefold() for said in line],
    )
    for line in lines:
        slow = demo.slow.figures(line["chassis_family"])
        keys = ("cases", "fixed", "success", "success_low", "fix_time_median_min", "fix_time_high_min")
        assert_equal(line, {key: slow[key] for key in keys})


def test_overview_lists_families_with_only_a_note_or_only_cases(demo: Folder) -> None:
    table = table_from_cases([case(1, "2026-01-05", chassis_family="X1")])
    lines = families_overview(table, {"TN-S3": demo.notes["TN-S3"]})
    assert [(line.chassis_family, line.make, line.success.total) for line in lines] == [
        ("X1", "Halvern", 1),
        ("TN-S3", "Tarnbrook", 0),
    ]


def test_figures_load_scipy_only_when_something_is_counted() -> None:
    # Half a second on a slow computer, which a search and its page must not wait for.
    told = "import sys, search.families.trends, search.answering.knowledge; sys.exit('scipy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", told], check=False).returncode == 0
