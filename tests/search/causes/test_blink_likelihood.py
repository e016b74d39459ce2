from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.notes.blinks import BlinkPattern, Group
from search.causes.blink_likelihood import NOT_RECORDED, blink_likelihood, blink_likelihoods

counts = st.integers(1, 12)
groups = st.lists(st.builds(Group, counts, st.sampled_from(["", "long", "short"])), min_size=1, max_size=3)
patterns = st.builds(
    BlinkPattern,
    alternatives=st.lists(groups.map(tuple), min_size=1, max_size=2).map(tuple),
    colour=st.sampled_from(["", "red", "green"]),
    doubtful=st.booleans(),
)


def _likelihood(recorded: str, said: str) -> float:
    return blink_likelihood(BlinkPattern.parse(recorded), BlinkPattern.parse(said))


@pytest.mark.parametrize(
    ("recorded", "nearer", "farther"),
    [
        pytest.param("6", "6", "7", id="right-before-one-off"),
        pytest.param("6", "7", "8", id="one-off-before-two-off"),
        pytest.param("6", "about 7", "7", id="one-off-forgiven-when-in-doubt"),
        pytest.param("3 or 4", "4", "5", id="either-alternative-is-right"),
        pytest.param("2+3", "2+4", "3+4", id="one-group-off-before-both"),
        pytest.param("2+3", "5", "6", id="groups-run-together"),
        pytest.param("2 long + 3 short", "2+3", "2 short + 3 long", id="length-unsaid-before-wrong"),
        pytest.param("6 red", "6", "6 green", id="colour-unsaid-before-wrong"),
    ],
)
def test_likelihood_prefers(recorded: str, nearer: str, farther: str) -> None:
    assert _likelihood(recorded, nearer) > _likelihood(recorded, farther)


@given(patterns, patterns)
def test_likelihood_is_within_bounds(one: BlinkPattern, other: BlinkPattern) -> None:
    assert 0 < blink_likelihood(one, other) <= 1


@given(patterns, patterns)
def test_likelihood_is_symmetric_but_for_lengths(one: BlinkPattern, other: BlinkPattern) -> None:
    plain = [
        replace(
            each,
            alternatives=tuple(tuple(Group(group.count) for group in groups) for groups in each.alternatives),
        )
        for each in (one, other)
    ]
    assert blink_likelihood(plain[0], plain[1]) == blink_likelihood(plain[1], plain[0])


def test_a_length_that_was_told_is_missed_more_in_a_note_than_by_an_owner() -> None:
    assert _likelihood("2 long + 3 short", "2+3") > 1.5 * _likelihood("2+3", "2 long + 3 short")


@given(patterns)
def test_likelihood_of_the_same_pattern_is_one(pattern: BlinkPattern) -> None:
    assert blink_likelihood(pattern, pattern) == 1.0


def test_case_without_pattern_neither_fits_nor_contradicts() -> None:
    recorded = [BlinkPattern.parse("6"), BlinkPattern.parse("2")]
    found = blink_likelihoods(np.array([0, 1, -1]), recorded, BlinkPattern.parse("6"))
    assert found[0] == 1.0
    assert found[1] < NOT_RECORDED == found[2] < found[0]
