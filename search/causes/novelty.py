"""The chance that the cause is not in the notebook yet, by Good-Turing and by how new the complaint looks."""

import numpy as np

from search.causes.context import ComplaintContext
from search.causes.priors import new_share
from search.stats.arrays import FloatArray

# When the cause is new, the known ones are hard to tell apart (uncertainty), no cause's cases are like the
# complaint in meaning, and none is supported by votes. Log odds per unit of each, and the value that changes
# nothing: fitted on two labelled lists and the demo, then rounded.
_UNCERTAINTY, _CERTAIN_AS_USUAL = 2.5, 0.4
_MEANING, _ALIKE_AS_USUAL = -2.0, 0.3
_SUPPORT, _SUPPORTED_AS_USUAL = -3.0, 0.4
_KAPPA = 64.0  # cases that the wider neighbourhood is worth: few cases say little of new causes; chosen by us
# Log odds for a blink count that such sets never showed. In the demo's history 10 of 13 such repairs had a
# new cause, and 15 of 62 others: a likelihood ratio of about 6.
_STRANGE_BLINKS = 1.8
# Weight of the log odds by which signs speak for a fault that is no cause here; chosen by us on the demo.
_KNOWN_SIGNS = 0.8


def chance_of_new_cause(context: ComplaintContext, chances: FloatArray) -> float:
    """Return the chance that the cause is not in the notebook yet; within (0, 1).

    chances: (n_causes,) if the cause is a known one, from what the complaint affirms alone.
    """
    base = good_turing(context)
    odds = np.log(base / (1 - base))
    odds += _STRANGE_BLINKS * strangeness_of_blinks(context)
    if context.query.terms:  # without words no case is alike, but that makes nothing new
        looks = _UNCERTAINTY * (uncertainty(chances) - _CERTAIN_AS_USUAL)
        looks += _MEANING * (context.cause_meaning.max() - _ALIKE_AS_USUAL)
        looks += _SUPPORT * (context.cause_support.max() - _SUPPORTED_AS_USUAL)
        if context.fault_odds is not None:
            looks -= _KNOWN_SIGNS * context.fault_odds.familiarity(context.known)
        odds += context.telling * looks  # few words say little of this, too
    return float(1 / (1 + np.exp(-odds)))


def uncertainty(chances: FloatArray) -> float:
    """Return how hard causes are to tell apart, 0 to 1: their entropy, as a share of the most it could be."""
    met = chances[chances > 0]
    return float(-(met @ np.log(met)) / np.log(max(len(met), 2)))


def good_turing(context: ComplaintContext) -> float:
    """Return the chance of a new cause in sets like this one, whatever the complaint says."""
    usable, alone = context.usable, context.usable_cases.alone
    chance = new_share(int(np.count_nonzero(alone)), int(np.count_nonzero(usable)))
    for near in context.neighbourhoods:
        seen_once, seen = int(np.count_nonzero(alone & near)), int(np.count_nonzero(usable & near))
        chance = new_share(seen_once, seen, parent=chance, kappa=_KAPPA)
    return chance


def strangeness_of_blinks(context: ComplaintContext) -> float:
    """Return how unlike all blinks noted in such sets the said ones are, 0 to 1; 0 if none are known."""
    cases, query = context.cases, context.query
    if query.blinks is None:
        return 0.0
    noted = context.usable & (cases.blink_code >= 0)
    if query.family >= 0:
        noted = noted & (cases.family == query.family)
    elif context.device >= 0:
        noted = noted & (cases.device == context.device)
    return 1 - float(context.blink_fit[noted].max()) if noted.any() else 0.0
