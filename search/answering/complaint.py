"""A complaint as it is asked: the owner's words and what was given beside them."""

from collections.abc import Sequence
from dataclasses import replace

from kb.errors import BenchloreError, quoted
from kb.notes.blinks import BlinkPattern
from search.answering.knowledge import Knowledge
from search.index.snapshot import Snapshot
from search.reading.complaint import read_complaint
from search.reading.reading import Reading

NOT_SAID = "none"  # given as family or blinks: what the text seems to say of it is a wrong reading


class BlinksError(BenchloreError):
    """Say that a blink pattern given beside a complaint cannot be read, and what to write instead."""


def read_said(
    snapshot: Snapshot,
    knowledge: Knowledge,
    text: str,
    *,
    family: str = "",
    blinks: str = "",
    literal: bool = False,
    yes: Sequence[str] = (),
    no: Sequence[str] = (),
) -> Reading:
    """Return what is said to one state of a notebook (see Bench.answer). Raises: BlinksError."""
    reading = read_complaint(
        text,
        finder=knowledge.finder,
        families=list(knowledge.families.values()),
        lexicon=snapshot.lexicon,
        blinks=None if blinks == NOT_SAID else _pattern(blinks),
        family="" if family == NOT_SAID else family,
        literal=literal,
        yes=yes,
        no=no,
    )
    if blinks == NOT_SAID:
        reading = replace(reading, blinks=None)
    if family == NOT_SAID:
        reading = replace(reading, family="", model="", make="", device="")
    # A family that has cases but no note yet is a family all the same.
    if reading.family and reading.family not in knowledge.families:
        known = {name.casefold(): name for name in knowledge.table.family_names}
        return replace(reading, family=known.get(reading.family.casefold(), reading.family))
    return reading


def _pattern(blinks: str) -> BlinkPattern | None:
    try:
        return BlinkPattern.parse(blinks) if blinks.strip() else None
    except ValueError as error:
        raise BlinksError(f"blinks: {quoted(blinks)}; {error}") from error
