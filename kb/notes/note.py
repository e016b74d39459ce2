"""What all kinds of note share: reading markdown with front matter into typed fields, and writing it back."""

from collections.abc import Iterable, Mapping
from typing import Any, ClassVar, Self

from pydantic import BaseModel, ConfigDict, ValidationError
from rapidfuzz import process
from rapidfuzz.distance import OSA

from kb.errors import NoteError, Problem, quoted
from kb.notes import fields
from kb.notes.frontmatter import split
from kb.notes.yaml_text import spell_field

NOTHING = "nothing"  # what stands in a field that is missing or empty
NO_FIELD = "not a field of a note"  # said of a key that seems to be misspelt
Fault = tuple[str, str, str]  # front matter key, what stands there, what to write instead
_LIKE_KEY = 0.75  # chosen by us: one wrong letter in four (test_malformed_notes)


class Note(BaseModel):
    """Hold one note. An absent text is "", an absent list (), all else None. Times are hands-on minutes."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    KEYS: ClassVar[Mapping[str, str]]  # attribute of each front matter key, in writing order

    body: fields.Body = ""  # free markdown
    unknown: dict[str, Any] = {}  # fields this program does not know: texts, lists and mappings of texts

    @classmethod
    def __pydantic_init_subclass__(cls, **options: Any) -> None:
        """Collect KEYS from the declared fields."""
        named = ((field.alias or name, name) for name, field in cls.model_fields.items())
        cls.KEYS = {key: name for key, name in named if name not in Note.model_fields}

    @classmethod
    def parse(cls, text: str, *, file: str) -> Self:
        """Read a note's text. file: its path. Raises: NoteError with every problem and its line."""
        front = split(text, file=file)
        lines = {name: entry.line for name, entry in front.entries.items()} | {"body": front.body_line}
        values = {name: entry.value for name, entry in front.entries.items()}
        note, faults = cls._build(values, body=front.body, file=file)
        problems = [
            Problem(key, found, remedy, file=file, line=lines.get(key, 1))
            for key, found, remedy in faults
            # A field is not missing if its line could not be read, or if the head has no end.
            if key not in front.broken and (found != NOTHING or front.complete or key in lines)
        ]
        if note is None or problems or front.problems:
            raise NoteError([*front.problems, *problems])
        return note

    @classmethod
    def from_fields(cls, given: Mapping[str, Any]) -> Self:
        """Build a note from front matter keys, and "body", with text or JSON values. Raises: NoteError."""
        values = {"body": "", **given}
        note, faults = cls._build(values, body=values.pop("body"))
        if note is None or faults:
            raise NoteError(Problem(*fault) for fault in faults)
        return note

    def as_fields(self) -> dict[str, Any]:
        """Return the fields to write as texts, lists and mappings of texts, in order, without empty ones."""
        written = self.model_dump(mode="json", by_alias=True, exclude={"body", "unknown"})
        return {key: value for key, value in written.items() if value} | self.unknown

    def slips(self) -> dict[str, str]:
        """Return keys that seem to be misspelt, each with the field that was meant."""
        said = self.as_fields() if self.unknown else self.KEYS
        empty = [key for key in self.KEYS if key not in said]
        return {near: key for key in empty if (near := _like(key, self.unknown))}

    def as_text(self) -> str:
        """Return the note as markdown; reading it again gives an equal note."""
        head = "".join(spell_field(key, value) for key, value in self.as_fields().items())
        return f"---\n{head}---\n{self.body}\n" if self.body else f"---\n{head}---\n"

    @classmethod
    def _faults_of_place(cls, note: Self | None, values: Mapping[str, Any], *, file: str) -> list[Fault]:
        """Return the faults that only the note's path shows."""
        return []

    @classmethod
    def _build(
        cls, values: Mapping[str, Any], *, body: str, file: str | None = None
    ) -> tuple[Self | None, list[Fault]]:
        known: dict[str, Any] = {key: values[key] for key in cls.KEYS if key in values}
        unknown: dict[str, Any] = {}
        faults: list[Fault] = []
        for key, value in values.items():
            try:
                unknown |= {} if key in cls.KEYS else fields.plain_value({key: value})
            except ValueError as error:
                faults.append((str(key), quoted(_shown(value)), str(error)))
        note = None
        try:
            note = cls(**known, body=body, unknown=unknown)
        except ValidationError as error:
            faults = [*map(cls._fault, error.errors(include_url=False)), *faults]
        if file is not None:
            faults = [*cls._faults_of_place(note, values, file=file), *faults]
        return note, [cls._misspelt(fault, values) for fault in faults]

    @classmethod
    def _fault(cls, error: Mapping[str, Any]) -> Fault:
        key = str(error["loc"][0])
        cause = error.get("ctx", {}).get("error")
        remedy = str(cause) if cause is not None else error["msg"]
        if error["type"] == "missing" or not remedy:
            return key, NOTHING, cls.model_fields[cls.KEYS[key]].description or "write a value"
        return key, quoted(_shown(error["input"])), remedy

    @classmethod
    def _misspelt(cls, fault: Fault, values: Mapping[str, Any]) -> Fault:
        """Turn "a field is missing" into "this key is misspelt" where a similar key is there."""
        key, found, _ = fault
        name = _like(key, values.keys() - cls.KEYS) if found == NOTHING and key not in values else ""
        return (name, NO_FIELD, f"write {key}") if name else fault


def _like(key: str, names: Iterable[str]) -> str:
    """Return the name that looks like a misspelt key, or ""."""
    found = process.extractOne(
        key, sorted(names), scorer=OSA.normalized_similarity, processor=str.casefold, score_cutoff=_LIKE_KEY
    )
    return found[0] if found else ""


def _shown(value: Any, depth: int = 0) -> Any:
    if depth > 2 and isinstance(value, list | tuple | Mapping):
        return "..."
    if isinstance(value, list | tuple):
        return f"[{', '.join(str(_shown(item, depth + 1)) for item in value)}]"
    if isinstance(value, Mapping):
        return ", ".join(f"{key}: {_shown(item, depth + 1)}" for key, item in value.items())
    return "" if value is None else value
