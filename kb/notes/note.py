"""What every kind of note has in common: markdown with front matter in, typed fields out, and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Self

from pydantic import BaseModel, ConfigDict, ValidationError, field_validator

from kb.errors import NoteError
from kb.notes import fields
from kb.notes.durations import format_minutes
from kb.notes.frontmatter import split
from kb.notes.spelling import spell_field

Fault = tuple[str, str, str]
"""Front matter key, what stands there, what to write instead."""


class Note(BaseModel):
    """Hold one note.

    Texts are "" and lists () when absent, numbers and patterns None; times are hands-on bench minutes.

    Attributes:
        KEYS: keys of the front matter, in the order they are written.
        ATTRIBUTES: attribute of a key, where the two differ.
        REMEDIES: what to write where a key is missing or wrong.
        body: free markdown, without blank lines at its ends.
        unknown: fields this program does not know, kept as texts, lists and mappings of texts.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    KEYS: ClassVar[tuple[str, ...]]
    ATTRIBUTES: ClassVar[Mapping[str, str]]
    REMEDIES: ClassVar[Mapping[str, str]]

    body: fields.Body = ""
    unknown: dict[str, Any] = {}

    @field_validator("unknown", mode="before")
    @classmethod
    def _keep_plain(cls, value: Any) -> dict[str, Any]:
        return fields.plain_fields(value, cls.KEYS)

    @classmethod
    def parse(cls, text: str, *, file: str) -> Self:
        """Read a note's text.

        Args:
            text: the whole note.
            file: its path within the notebook, named in problems.

        Raises:
            NoteError: with every problem at once, each with its line.
        """
        front = split(text, file=file)
        lines = {name: entry.line for name, entry in front.entries.items()} | {"body": front.body_line}
        values = {name: entry.value for name, entry in front.entries.items()}
        note, faults = cls._build(values, body=front.body)
        faults = cls._faults_of_place(note, values, faults, file=file)
        placed = fields.place(fields.believable(faults, front), file=file, lines=lines, otherwise=1)
        if note is None or placed or front.problems:
            raise NoteError([*front.problems, *placed])
        return note

    @classmethod
    def from_fields(cls, given: Mapping[str, Any], *, body: str = "") -> Self:
        """Build a note from front matter keys with text or JSON values, as a form or an import has them.

        Args:
            given: values by key; "body" is the markdown body, unless one is given beside the fields.
            body: the markdown body.

        Raises:
            NoteError: with every problem at once (no file, line 0).
        """
        values = dict(given)
        inner = values.pop("body", "")
        note, faults = cls._build(values, body=body or inner)
        if note is None or faults:
            raise NoteError(fields.place(faults, file="", lines={}, otherwise=0))
        return note

    def as_fields(self) -> dict[str, Any]:
        """Return the fields as they are written: keys in order, empty ones left out.

        Values are texts, lists of texts, and mappings of them.
        """
        written: dict[str, Any] = {}
        for key in self.KEYS:
            attribute = self.ATTRIBUTES.get(key, key)
            value = getattr(self, attribute)
            if value is not None and value not in ("", ()):
                written[key] = as_written(attribute, value)
        return written | self.unknown

    def as_text(self) -> str:
        """Return the note as markdown; reading it again gives an equal note."""
        head = "".join(spell_field(key, value) for key, value in self.as_fields().items())
        return f"---\n{head}---\n{self.body}\n" if self.body else f"---\n{head}---\n"

    @classmethod
    def _faults_of_place(
        cls, note: Self | None, values: Mapping[str, Any], faults: list[Fault], *, file: str
    ) -> list[Fault]:
        """Return the faults with those that show only where the note stands in the notebook."""
        return faults

    @classmethod
    def _build(cls, values: Mapping[str, Any], *, body: str) -> tuple[Self | None, list[Fault]]:
        known: dict[str, Any] = {"body": body}
        known |= {cls.ATTRIBUTES.get(key, key): values[key] for key in cls.KEYS if key in values}
        unknown, faults = fields.keep_unknown(values, cls.KEYS)
        try:
            return cls(**known, unknown=unknown), faults
        except ValidationError as error:
            keys = {attribute: key for key, attribute in cls.ATTRIBUTES.items()}
            return None, [*fields.problems_of(error, names=keys, remedies=cls.REMEDIES), *faults]


def as_written(attribute: str, value: Any) -> Any:
    """Return a field's value in the spelling a note is written in."""
    if attribute.endswith("_min"):
        return format_minutes(value)
    if attribute == "blink_meaning":
        return {str(pattern): meaning for pattern, meaning in value}
    return list(value) if isinstance(value, tuple) else str(value)
