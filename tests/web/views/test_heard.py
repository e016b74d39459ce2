"""How what was understood is said."""

from dataclasses import replace

import pytest

from search.bench import STILL_LOOKING, Bench
from search.learning import STILL_LEARNING
from web.views.answer_view import AnswerView, ask, view_answer
from web.views.heard import STANDS_OUT, left_out
from web.views.state import SearchState


def shown(bench: Bench, notices: tuple[str, ...] = (), **said: object) -> AnswerView:
    state = SearchState(**said)  # type: ignore[arg-type]
    answer = ask(bench, state)
    return view_answer(replace(answer, notices=(*answer.notices, *notices)), state, bench)


def test_what_is_told_of_another_set_is_not_called_past_alone(demo_bench: Bench) -> None:
    reading = demo_bench.read("the telly has no sound and the washer leaks from the door")
    assert left_out(reading) == (("the washer leaks from the door", "past, or of the washing machine"),)


def test_what_is_left_out_is_said_in_its_order_and_why(demo_bench: Bench) -> None:
    reading = demo_bench.read("washing machine won't spin. It is not leaking. Last year it hummed.")
    assert left_out(reading) == (("leaking", "denied"), ("Last year it hummed", "past"))


def test_check_without_a_recorded_time_says_so(demo_bench: Bench) -> None:
    steps = shown(demo_bench, q="microwave oven sparks").steps
    told = {step.cause: "the time is a guess" in step.notes for step in steps}
    assert (told["mica cover burnt"], told["cavity rusted through"]) == (True, False)


@pytest.mark.parametrize(
    ("complaint", "heard"),
    [
        pytest.param(
            "zxqvorp telly, no sound", "set LED TV; fault no sound; not understood zxqvorp", id="among-others"
        ),
        pytest.param(
            "washer won't spin, pump is clean, doesn't trip",
            "set washing machine; fault does not spin; in order supply holds; also drain pump, cleaned",
            id="no-fault",
        ),
        pytest.param("zxqvorp", "only the words zxqvorp; not understood zxqvorp", id="alone"),
    ],
)
def test_words_nobody_knows_stand_beside_what_was_understood(
    demo_bench: Bench, complaint: str, heard: str
) -> None:
    view = shown(demo_bench, q=complaint)
    assert "; ".join(map(str, view.heard)) == heard
    assert not any("zxqvorp" in warning for warning in view.warnings)


@pytest.mark.parametrize("notice", [STILL_LEARNING, STILL_LOOKING])
def test_learning_is_said_beside_the_probabilities_alone(demo_bench: Bench, notice: str) -> None:
    usual, learning = shown(demo_bench, q="telly dead"), shown(demo_bench, (notice,), q="telly dead")
    assert (usual.unsettled, learning.unsettled) == (False, True)
    assert learning.warnings == usual.warnings


def test_a_guess_is_called_so_until_the_cause_is_found_or_another_warning_says_why(demo_bench: Bench) -> None:
    said = {
        "q": "blinks six or seven times then gives up, Halvern 43",
        "rule_out": ("LED strip open circuit",),
    }
    guess = shown(demo_bench, **said)
    assert guess.warnings == ("Nothing stands out. Ask for the model on the label.",)
    found = shown(demo_bench, **said, found="standby capacitor high ESR")
    assert found.warnings == ()
    assert shown(demo_bench, q="coffee machine").warnings == (
        "Only the set was understood (coffee machine): say what it does or does not do.",
    )


@pytest.mark.parametrize(
    ("complaint", "spelt_out"),
    [
        pytest.param(
            "dishwasher trips the electric, water on the floor round the plug", "water and mains", id="common"
        ),
        pytest.param("microwave sparks and comes on with the door open", "microwave leakage", id="rare"),
        pytest.param("telly went with a bang, smoke out the back", "fire risk", id="before-no-second-try"),
    ],
)
def test_hazard_that_the_owner_tells_of_is_spelt_out_first(
    demo_bench: Bench, complaint: str, spelt_out: str
) -> None:
    assert shown(demo_bench, q=complaint).spelt_out[0] == spelt_out


def test_hazards_of_a_set_that_is_only_guessed_leave_room_for_the_causes(demo_bench: Bench) -> None:
    assert len(shown(demo_bench, q="no heat").spelt_out) == 1
    assert len(shown(demo_bench, q="printer, paper jam").spelt_out) == 2


def test_a_fault_known_in_general_is_no_guess(demo_bench: Bench) -> None:
    view = shown(demo_bench, q="dehumidifier trips the house, water everywhere, the plug went brown")
    assert view.answer.causes[0].probability < STANDS_OUT < view.answer.known_in_general[0].probability
    assert view.warnings == ()
