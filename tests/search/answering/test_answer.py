"""The JSON of an answer: what `GET /api/search` and `benchlore search --json` promise."""

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from search.answering.answer import (
    Advice,
    Answer,
    CaseHit,
    CauseAnswer,
    CauseProfile,
    Caution,
    FamilyShare,
)
from search.planning.bench_time import BenchTime
from search.planning.checks import Check, CheckPlan
from search.reading.complaint import read_complaint
from tests.search.small_shop import REPAIRS, repair

NUMBER = (int, float)
MAYBE_NUMBER = (int, float, type(None))

READING_KEYS: dict[str, Any] = {
    "text": str, "words": list, "concepts": list, "blinks": str, "family": str, "make": str, "model": str,
    "device": str, "instead_of": dict,
}  # fmt: skip
CAUSE_KEYS: dict[str, Any] = {
    "root_cause": str, "probability": float, "cases": int, "fix_time_min": MAYBE_NUMBER, "check": str,
    "check_time_min": NUMBER, "check_time_assumed": bool, "board": str, "evidence": list, "spellings": list,
    "why": str, "against": str,
}  # fmt: skip
CHECK_KEYS: dict[str, Any] = {
    "root_cause": str,
    "minutes": NUMBER,
    "probability": float,
    "inside": bool,
    "note": str,
}
CASE_KEYS: dict[str, Any] = {
    "case": str, "score": float, "root_cause": str, "chassis_family": str, "symptom": list, "blinks": str,
    "fix_time_min": MAYBE_NUMBER, "outcome": str, "matched": list,
}  # fmt: skip
ANSWER_KEYS: dict[str, Any] = {
    "reading": dict, "causes": list, "not_in_notebook": float, "checks": list,
    "expected_minutes": MAYBE_NUMBER, "bench_time_min": (dict, type(None)), "cases": list,
    "before_power": list, "tell_owner": list,
    "while_open": list, "caution": list, "took_ms": float, "unmet_device": str, "questions": list,
    "quote_condition": str, "already_open": bool,
}  # fmt: skip


def assert_keeps_the_promise(said: dict[str, Any]) -> None:
    """Hold an answer's JSON against the keys and kinds of values promised."""
    assert_kinds(said, ANSWER_KEYS)
    assert_kinds(said["reading"], READING_KEYS)
    for name, kinds in (("causes", CAUSE_KEYS), ("checks", CHECK_KEYS), ("cases", CASE_KEYS)):
        for each in said[name]:
            assert_kinds(each, kinds)
    if said["bench_time_min"] is not None:
        assert_kinds(said["bench_time_min"], {"median": NUMBER, "low": NUMBER, "high": NUMBER})
    for name in ("before_power", "tell_owner", "while_open", "caution"):
        assert all(isinstance(line, str) and line for line in said[name])
    assert json.loads(json.dumps(said)) == said


def assert_kinds(said: dict[str, Any], kinds: dict[str, Any]) -> None:
    for name, kind in kinds.items():
        assert name in said, name
        assert isinstance(said[name], kind), f"{name}: {said[name]!r}"


HIT = CaseHit(
    file="cases/2024/20240110-aaa1.md",
    score=1.23456,
    compare=lambda: ("dark",),
    note=repair("20240110-aaa1", REPAIRS["20240110-aaa1"]),
)
CHECK = Check(
    root_cause="LED strip open circuit",
    check="LED tester",
    minutes=5.0,
    probability=0.75,
    inside=True,
    assumed=False,
)
CAUSE = CauseAnswer(
    root_cause="LED strip open circuit",
    probability=0.75,
    codes=(0,),
    rows=np.arange(3),
    evidence=("20240110-aaa1",),
    describe=lambda: CauseProfile(
        rows=np.arange(3),
        fixed=2,
        fix_time_min=90.0,
        check=CHECK,
        board="backlight",
        proof=("3 h",),
        parts=("strips",),
        caution=(),
        by_family=(("HV-L2", 2), ("OS-K5", 1)),
    ),
    explain=lambda cause: (f"'dark' in 2 of its {cause.cases} cases", ""),
)


@pytest.fixture
def answer() -> Answer:
    return Answer(
        reading=read_complaint("dark, six flashes"),
        caution=(Caution(kind="mains", says="It kills."), Caution(kind="stored charge", says="It stays.")),
        before_power=(Advice("Look at F801"), Advice("Press it home", "HV-L2")),
        tell_owner=(Advice("Pull the plug"),),
        while_open=(Advice("Change C833"),),
        families=(FamilyShare(chassis_family="HV-L2", share=2 / 3),),
        causes=(CAUSE,),
        other_causes=0.15,
        not_in_notebook=0.1,
        ruled_out=("PFC MOSFET shorted",),
        plan=CheckPlan(checks=(CHECK,), opening_min=14.0),
        opening_assumed=False,
        bench_time=BenchTime(median=100.0, low=60.0, high=150.0),
        cases=(HIT,),
        notices=("Nothing was ruled out.",),
        took_ms=7.126,
    )


def test_answer_json_keeps_the_promise(answer: Answer) -> None:
    assert_keeps_the_promise(answer.as_json())


def test_answer_json_says_what_the_answer_says(answer: Answer) -> None:
    said = answer.as_json()
    assert said["reading"]["blinks"] == "6"
    assert said["causes"][0]["probability"] == 0.75
    assert said["causes"][0]["evidence"] == ["20240110-aaa1"]
    assert said["other_causes"] == 0.15
    assert said["ruled_out"] == ["PFC MOSFET shorted"]
    assert said["bench_time_min"] == {"median": 100, "low": 60, "high": 150}
    assert said["families"] == [{"chassis_family": "HV-L2", "share": 2 / 3}]
    assert said["before_power"] == ["Look at F801", "If it is HV-L2: Press it home"]
    assert said["caution"] == ["mains", "stored charge"]
    assert said["caution_says"] == {"mains": "It kills.", "stored charge": "It stays."}
    assert said["cases"][0]["score"] == HIT.score
    assert said["cases"][0]["date"] == "2024-01-10"
    assert said["took_ms"] == 7.126


def test_answer_json_without_anything_to_check(answer: Answer) -> None:
    empty = replace(answer, plan=CheckPlan(), bench_time=None, cases=())
    said = empty.as_json()
    assert_keeps_the_promise(said)
    assert (said["expected_minutes"], said["bench_time_min"]) == (None, None)


def test_case_hit_json_of_a_note_that_cannot_be_read() -> None:
    said = replace(HIT, note=None).as_json()
    assert said["date"] is None
    assert said["fix_time_min"] is None
    assert said["readable"] is False
