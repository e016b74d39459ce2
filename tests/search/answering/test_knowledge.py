"""What is known of a cause: told in the references of the set that stands on the bench."""

import datetime

import pytest

from kb.notes.case import CaseNote
from search.answering.knowledge import Knowledge
from search.index.case_table import code_of

from ..small_shop import knowledge_of


def _repair(case: str, family: str, check: str, parts: list[str], board: str = "") -> CaseNote:
    return CaseNote.model_validate(
        {
            "case": case,
            "date": datetime.date.fromisoformat(f"{case[:4]}-{case[4:6]}-{case[6:8]}"),
            "device": "LED TV",
            "chassis_family": family,
            "symptom": ["dark picture"],
            "root_cause": "LED driver MOSFET shorted",
            "check": check,
            "board": board,
            "parts": parts,
            "fix_time_min": "1 h",
            "outcome": "fixed",
        }
    )


@pytest.fixture
def knowledge() -> Knowledge:
    cases = [
        _repair("20240110-aaa1", "HV-L2", "Q851 drain to source", ["Q851 IRF640N"], "power supply"),
        _repair("20250110-aaa2", "OS-K5", "Q971 drain to source", ["Q971 IRF640N"], "LED driver"),
        _repair("20260110-aaa3", "TN-S3", "", []),
    ]
    return knowledge_of(cases)


@pytest.mark.parametrize(
    ("family", "check", "parts", "board"),
    [
        pytest.param("HV-L2", "Q851 drain to source", ("Q851 IRF640N",), "power supply", id="own-older"),
        pytest.param("OS-K5", "Q971 drain to source", ("Q971 IRF640N",), "LED driver", id="own"),
        pytest.param("TN-S3", "Q971 drain to source (as in OS-K5)", (), "LED driver", id="none-noted-in-it"),
        pytest.param("CV-D1", "Q971 drain to source (as in OS-K5)", (), "LED driver", id="never-seen-in-it"),
    ],
)  # fmt: skip
def test_profile_speaks_of_the_family_on_the_bench_first(
    knowledge: Knowledge, family: str, check: str, parts: tuple[str, ...], board: str
) -> None:
    profile = knowledge.profile((0,), code_of(knowledge.table.family_names, family))
    assert (profile.check.check, profile.parts, profile.board) == (check, parts, board)


def test_kinds_of_cases_are_told_apart_by_cause_family_and_make(knowledge: Knowledge) -> None:
    kind, causes, families, makes = (each.tolist() for each in knowledge.kinds)
    table = knowledge.table
    told = [*zip(table.cause.tolist(), table.family.tolist(), table.make.tolist(), strict=True)]
    assert [(causes[at], families[at], makes[at]) for at in kind] == told
    assert [*zip(causes, families, makes, strict=True)] == sorted(set(told))
