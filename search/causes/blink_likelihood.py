"""How likely an owner's blink count is, given what the set really blinked."""

from collections.abc import Sequence
from itertools import product
from math import prod

import numpy as np

from kb.notes.blinks import BlinkPattern, Group
from search.stats.arrays import FloatArray, IntArray

# Chosen by us: most owners count right, many are one off, few are wide of it
# (tests/search/causes/test_odds.py notices when the order of these changes).
_ONE_OFF = 0.25
_ONE_OFF_IN_DOUBT = 0.4
_SUM_OF_GROUPS = 0.3  # "five" for 2+3: the pause was not noticed
_LENGTH_UNSAID = 0.9  # "2+3" for 2 long + 3 short: the owner did not notice
_LENGTH_UNRECORDED = 0.4  # "2 long + 3 short" for 2+3: a technician would have noted the lengths
_OTHER_COLOUR = 0.3
_ELSE = 0.03
NOT_RECORDED = 0.2  # likelihood of any pattern for a case whose note has none; chosen by us


def blink_likelihood(recorded: BlinkPattern, said: BlinkPattern) -> float:
    """Return how likely an owner says one pattern when the set showed another; 1 for the same one.

    With a doubt ("3 or 4", "about 6") the best alternative counts. Swapping the two patterns changes nothing,
    unless only one of them tells long blinks from short.
    """
    one_off = _ONE_OFF_IN_DOUBT if recorded.doubtful or said.doubtful else _ONE_OFF
    pairs = product(recorded.alternatives, said.alternatives)
    best = max(_groups_likelihood(real, told, one_off) for real, told in pairs)
    if recorded.colour and said.colour and recorded.colour != said.colour:
        best *= _OTHER_COLOUR
    return max(best, _ELSE)


def _groups_likelihood(real: tuple[Group, ...], told: tuple[Group, ...], one_off: float) -> float:
    if len(real) == len(told):
        return prod(_group_likelihood(one, other, one_off) for one, other in zip(real, told, strict=True))
    all_real, all_told = (sum(group.count for group in groups) for groups in (real, told))
    return _SUM_OF_GROUPS if 1 in (len(real), len(told)) and all_real == all_told else _ELSE


def _group_likelihood(one: Group, other: Group, one_off: float) -> float:
    apart = abs(one.count - other.count)
    likelihood = 1.0 if apart == 0 else one_off if apart == 1 else _ELSE
    if one.length == other.length:
        return likelihood
    unlike = _LENGTH_UNSAID if not other.length else _ELSE if one.length else _LENGTH_UNRECORDED
    return likelihood * unlike


def blink_likelihoods(codes: IntArray, patterns: Sequence[BlinkPattern], said: BlinkPattern) -> FloatArray:
    """Return for every case how likely its owner would say that pattern; (size,), float32.

    codes: (size,) the recorded pattern of each case; -1 for none, which speaks neither for nor against it.
    """
    table = np.array([*(blink_likelihood(each, said) for each in patterns), NOT_RECORDED], np.float32)
    likelihoods: FloatArray = table[codes]
    return likelihoods
