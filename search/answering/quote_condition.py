"""Whether a price can be named, and on what it depends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from search.answering.suspects import Suspect
from search.causes.odds import CauseOdds

# Both chosen by us.
NO_PRICE_FROM = 0.5  # chance of a cause not in the notebook from which no price is named at all
LIKELY_RULED_OUT = 0.2  # probability of the causes ruled out from which a price depends on the others


@dataclass(frozen=True, kw_only=True)
class QuoteCondition:
    """Why there is no price, or on what it depends; `withheld` when none is to be named."""

    says: str = ""
    withheld: bool = False


def quote_condition(
    odds: CauseOdds, suspects: Sequence[Suspect], *, ruled_out: float, understood: bool, set_known: bool
) -> QuoteCondition:
    """Return the condition of a price.

    Args:
        odds: after what was ruled out.
        suspects: the causes that are left, the likeliest first.
        ruled_out: probability that the causes ruled out had before.
        understood: whether anything of the fault was.
        set_known: whether the complaint tells what kind of set it is.
    """
    if not suspects:
        return QuoteCondition()
    if not understood:
        return QuoteCondition(says="No price: nothing of the fault was understood.", withheld=True)
    new = odds.not_in_notebook
    if new >= NO_PRICE_FROM:
        why = (
            "the likely causes were ruled out" if ruled_out >= LIKELY_RULED_OUT else "none of these is likely"
        )
        return QuoteCondition(says=f"No price: {why}, so it is probably something new.", withheld=True)
    if ruled_out >= LIKELY_RULED_OUT:
        return QuoteCondition(
            says="Only if it is one of the causes that are left; likely ones were ruled out."
        )
    if new > suspects[0].probability:
        return QuoteCondition(
            says=f"Only if it is one of these causes: {1 - new:.0%} likely.".replace("%", " %")
        )
    if not set_known:
        return QuoteCondition(says="Ask for make and model first: nothing says what set it is.")
    return QuoteCondition()
