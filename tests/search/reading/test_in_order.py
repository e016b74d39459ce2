"""What is said to work tells of no fault, and what a light does tells of what it does not."""

import pytest

from search.reading.complaint import read_complaint


@pytest.mark.parametrize(
    ("text", "gone", "kept"),
    [
        ("the plate does not turn, it heats fine though", {"heat"}, {"plate"}),
        ("the left shelf stays warm, the three below are ok", {"three"}, {"left", "shelf"}),
        ("the tray turns perfectly but the door leaks", {"turn"}, {"door", "leak"}),
        ("heats fine for ten minutes then it dies", set(), {"heat", "minut", "die"}),
        ("the drum is not ok", set(), {"drum"}),
        ("ok so the drum bangs", set(), {"drum", "bangs"}),
    ],
)
def test_words_of_what_works_are_no_evidence(text: str, gone: set[str], kept: set[str]) -> None:
    reading = read_complaint(text)
    stems = {term.term for term in reading.terms}
    assert not stems & gone
    assert kept <= stems


def test_sound_that_is_fine_without_a_picture_is_still_a_symptom() -> None:
    assert "sound but no picture" in read_complaint("no picture, sound is fine").concepts


@pytest.mark.parametrize(
    ("text", "denies"),
    [
        ("won't start, the little red light stays on", True),
        ("stuck in standby, the light blinks", False),
        ("stuck in standby, six flashes", False),
        ("won't start", False),
    ],
)
def test_a_steady_light_denies_a_blinking_one(text: str, denies: bool) -> None:
    denied = {term.term for term in read_complaint(text).denied_terms}
    assert ("=blinking light" in denied) is denies


@pytest.mark.parametrize(
    ("text", "denied"),
    [
        ("heats well, the plate turns", {"no heat", "turntable does not turn"}),
        ("drains fine", {"does not drain"}),
        ("sound as normal", {"no sound"}),
        ("the fuse box stayed in", {"trips the breaker"}),
        ("doesn't heat but the plate goes round", {"turntable does not turn"}),
        ("the wind blows as it should but no cold", {"fan does not turn"}),
        ("strong breeze from the slots, tank stays empty", {"fan does not turn"}),
        ("it still spins, it just won't pump", {"does not spin"}),
        ("fills like new, won't drain", {"does not fill"}),
        ("no trouble with the sound, the picture is gone", {"no sound"}),
        ("lamp, tray, clock, everything works, it just won't heat", {"no standby light"}),
        ("motor noise as always, the belt slips", {"noisy"}),
        ("freezer isn't warm, it only bangs", {"not cold"}),
        ("the monitor is not hot", {"overheats"}),
        ("the toaster won't go cold", {"no heat"}),
    ],
)
def test_what_is_said_to_work_speaks_against_its_failing(text: str, denied: set[str]) -> None:
    reading = read_complaint(text)
    assert {f"={name}" for name in denied} <= {term.term for term in reading.denied_terms}
    assert not denied & {*reading.concepts}


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("freezer isn't warm", set()),
        ("oven isn't warm", {"no heat"}),
        ("freezer isn't freezing", {"not cold"}),
    ],
)
def test_what_is_not_warm_may_be_as_it_should(text: str, faults: set[str]) -> None:
    assert {"no heat", "not cold"} & {*read_complaint(text).concepts} == faults


@pytest.mark.parametrize(
    "text",
    [
        "not a good sound",
        "the sound is fine for an hour",
        "the receiver next door has good sound if that helps",
        "the sound was good last year",
        "still no sound",
    ],
)
def test_praise_on_a_condition_or_of_another_time_rules_nothing_out(text: str) -> None:
    assert "=no sound" not in {term.term for term in read_complaint(text).denied_terms}


def test_a_water_tap_is_no_tapping() -> None:
    assert "reacts to tapping" not in read_complaint("the tap is open, hose and tap are new").concepts
