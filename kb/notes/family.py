"""One chassis family: its models, its advice, and what the service sheet says of its blinks."""

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainSerializer

from kb.errors import quoted
from kb.notes import fields
from kb.notes.blinks import BlinkPattern
from kb.notes.note import Note

_MEANING_REMEDY = "write one pattern a line, as in 3: supply voltage missing"


def _to_meanings(value: Any) -> tuple[tuple[BlinkPattern, str], ...]:
    if value is None or value in ("", (), [], {}):
        return ()
    try:
        pairs = list(value.items() if isinstance(value, Mapping) else ((said, told) for said, told in value))
    except (TypeError, ValueError):
        raise ValueError(_MEANING_REMEDY) from None
    if len(pairs) > fields.LONGEST_LIST:
        raise ValueError(f"write at most {fields.LONGEST_LIST} patterns")
    meanings: dict[BlinkPattern, str] = {}
    for said, meaning in pairs:
        try:
            pattern = fields.to_pattern(said)
        except ValueError as error:
            raise ValueError(f"for {quoted(said)} {error}") from None
        if pattern is None or pattern in meanings:
            raise ValueError(f"{_MEANING_REMEDY}, each pattern once ({quoted(said)} is not)")
        meanings[pattern] = fields.tidy_text(meaning)
    return tuple(meanings.items())


class FamilyNote(Note):
    """Hold what a shop knows of one chassis family."""

    chassis_family: fields.RequiredText = Field(
        description="write the chassis family's name, as the case notes have it"
    )
    device: fields.RequiredText = Field(description="write what it is, as in LED TV")
    make: fields.Text = ""
    models: fields.Texts = ()  # `*` for any ending
    opening_time_min: fields.Minutes = Field(default=None, alias="opening_time")  # opening and closing
    before_power: fields.Texts = ()
    tell_owner: fields.Texts = ()
    while_open: fields.Texts = ()
    caution: fields.Names = ()
    # What the service sheet says, by pattern; given as a mapping or as pairs.
    blink_meaning: Annotated[
        tuple[tuple[Any, str], ...],
        BeforeValidator(_to_meanings),
        PlainSerializer(lambda pairs: {str(pattern): meaning for pattern, meaning in pairs}),
    ] = ()
    boards: fields.Texts = ()


FAMILY_FIELDS: tuple[str, ...] = tuple(FamilyNote.KEYS)  # keys of its front matter, as they are written
