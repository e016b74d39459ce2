"""Whether a price can be named, and on what it depends."""

from collections.abc import Sequence

from search.answering.answer import CauseAnswer

# Both chosen by us.
NO_PRICE_FROM = 0.5  # chance of a cause not in the notebook from which no price is named at all
LIKELY_RULED_OUT = 0.2  # probability of the causes ruled out from which a price depends on the others


def quote_condition(
    suspects: Sequence[CauseAnswer], *, new: float, ruled_out: float, understood: bool, set_known: bool
) -> tuple[str, bool]:
    """Return why there is no price or on what it depends, "" for neither, and whether it is withheld.

    Args:
        suspects: the causes that are left, the likeliest first.
        new: chance of a cause that is not in the notebook.
        ruled_out: probability that the causes ruled out had before.
        understood: whether anything of the fault was.
        set_known: whether the complaint tells what kind of set it is.
    """
    if not suspects:
        return "", False
    if not understood:
        return "No price: nothing of the fault was understood.", True
    likely_gone = ruled_out >= LIKELY_RULED_OUT
    if new >= NO_PRICE_FROM:
        why = "the likely causes were ruled out" if likely_gone else "none of these is likely"
        return f"No price: {why}, so it is probably something new.", True
    if likely_gone:
        return "Only if it is one of the causes that are left; likely ones were ruled out.", False
    if new > suspects[0].probability:
        return f"Only if it is one of these causes: {100 * (1 - new):.0f} % likely.", False
    return "" if set_known else "Ask for make and model first: nothing says what set it is.", False
