"""A technician's one-line note becomes fields; nothing that was not written becomes one."""

import pytest

from kb.notebook import DEMO, Notebook
from search.reading.job_note import KnownCauses, read_job_note

FAMILIES = list(Notebook(DEMO).families().values())
CAUSES = KnownCauses(
    names=("PFC MOSFET shorted", "drain pump blocked"), by_part={("HV-L2", "Q801"): "PFC MOSFET shorted"}
)


def fields(text: str) -> dict[str, object]:
    return {name: each.value for name, each in read_job_note(text, families=FAMILIES, causes=CAUSES).items()}


def test_one_sentence_fills_the_form() -> None:
    assert fields("HV-43L2 3 blinks, Q801 gone, 55 min") == {
        "chassis_family": "HV-L2", "model": "HV-43L2", "make": "Halvern", "device": "LED TV", "blinks": "3",
        "parts": ["Q801"], "symptom": ["blinking light"], "root_cause": "PFC MOSFET shorted",
        "fix_time": "55 min", "outcome": "fixed",
    }  # fmt: skip


@pytest.mark.parametrize(("text", "minutes"), [
    pytest.param("C12 leaky. Took an hour and a half. Soaked two hours", "1 h 30 min", id="work-not-soak"),
    pytest.param("strip open, half an hour, ran 2 hours", "30 min", id="ran-is-a-test"),
    pytest.param("fuse blown, bench time 20 min, on test 45 min", "20 min", id="said-to-be-bench-time"),
    pytest.param("fuse blown, soak tested 45 min", None, id="only-a-test"),
    pytest.param("12 V rail at 9 V, R801 open", None, id="volts-are-no-minutes"),
])  # fmt: skip
def test_bench_time_is_told_from_test_runs(text: str, minutes: str | None) -> None:
    assert fields(text).get("fix_time") == minutes


@pytest.mark.parametrize(("text", "cause"), [
    pytest.param("TN-W2 won't drain. Drain pump blocked.", "drain pump blocked", id="known-by-name"),
    pytest.param("HV-L2 dead, Q801 blown", "PFC MOSFET shorted", id="known-by-its-part"),
    pytest.param("OS-K5 dead, Q801 blown", "Q801 blown", id="same-part-in-another-family"),
    pytest.param("no sound, cleaned it", None, id="no-cause-told"),
])  # fmt: skip
def test_cause_is_called_what_it_was_called_before(text: str, cause: str | None) -> None:
    assert fields(text).get("root_cause") == cause


@pytest.mark.parametrize(("text", "outcome"), [
    ("ran all day, NFF", "no fault found"), ("board cracked, BER", "not economic"),
    ("relay stuck, not fixed, no parts", "not fixed"), ("relay stuck, works now", "fixed"),
])  # fmt: skip
def test_outcome_is_read(text: str, outcome: str) -> None:
    assert fields(text)["outcome"] == outcome


def test_a_guess_is_less_sure_than_what_stands_there() -> None:
    found = read_job_note("HV-L2 dead, C999 cracked, 20 min", families=FAMILIES, causes=CAUSES)
    assert found["chassis_family"].confidence > found["root_cause"].confidence


def test_nothing_is_made_of_nothing() -> None:
    assert fields("") == {}
    assert fields("thank you for the cake") == {}
