"""Turn the text of a field into a value, and back, for case notes and family notes."""

import datetime
import re
from collections.abc import Callable, Mapping
from typing import Annotated, Any, TypeVar

from pydantic import BeforeValidator, InstanceOf, PlainSerializer

from kb.notes.blinks import BlinkPattern
from kb.notes.durations import REMEDY, format_minutes, parse_minutes
from kb.notes.frontmatter import CONTROL, DEEPEST

_ISO_DAY = re.compile(r"([0-9]{4})-?([0-9]{2})-?([0-9]{2})")
_OTHER_DAY = re.compile(r"([0-9]{4})[-/. ]([0-9]{1,2})[-/. ]([0-9]{1,2})(?:[T ].*)?")
DAY_REMEDY = "write the day as 2026-03-18 (year-month-day)"
_YEARS = range(1950, 2200)  # chosen by us: no repair note is older, and a later year is a slip (test_case)
_LONGEST_KEY = 100  # chosen by us; YAML itself ends at 1024 characters
LONGEST_LIST = 500  # items; every page shows a list whole; chosen by us (tests/web/hostile)
LONGEST_TEXT = 5_000  # characters, two pages; more belongs in the body; chosen by us (tests/web/hostile)

Value = TypeVar("Value")


def tidy_text(value: Any) -> str:
    """Return one text with "\\n" for line ends and no blanks before them.

    Raises: ValueError that says what to write.
    """
    if value is None:
        return ""
    if isinstance(value, Mapping):
        raise ValueError("put the text in quotes, because it holds a colon")
    if isinstance(value, list | tuple):
        raise ValueError("write one text, not a list")
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueError("write a text")
    if isinstance(value, str) and value.isprintable() and len(value) <= LONGEST_TEXT:
        return value.strip()  # one line without control characters, as most are
    text = _without_control(str(value))
    if len(text) > LONGEST_TEXT:
        raise ValueError(f"write at most {LONGEST_TEXT:,} characters here and the rest below the fields")
    return "\n".join(line.rstrip() for line in text.split("\n")).strip()


def tidy_texts(value: Any) -> tuple[str, ...]:
    """Return a list of texts, each on one line, without empty ones; a single text is a list of one."""
    items = value if isinstance(value, list | tuple) else [value]
    if items is value and any(isinstance(item, list | tuple | Mapping) for item in items):
        raise ValueError("write a list of texts, and put one that holds a colon in quotes")
    if len(items) > LONGEST_LIST:
        raise ValueError(f"write at most {LONGEST_LIST} items")
    return tuple(filter(None, (" ".join(tidy_text(item).split()) for item in items)))


def tidy_names(value: Any) -> tuple[str, ...]:
    """Return a list of names in small letters, each once."""
    return tuple(dict.fromkeys(text.casefold() for text in tidy_texts(value)))


def tidy_body(value: Any) -> str:
    """Return a markdown body with "\\n" for line ends, without blank lines at its start and end."""
    if value is None:
        return ""
    if not isinstance(value, str):
        raise ValueError("write a text")
    return re.sub(r"\A(?:[ \t]*\n)+", "", _without_control(value).rstrip())


def _without_control(text: str) -> str:
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if bad := CONTROL.search(text):
        raise ValueError(f"delete the control character {bad[0]!r}")
    return text


def to_minutes(value: Any) -> int | None:
    """Return bench minutes from a number or from any spelling of a duration; None for nothing."""
    if isinstance(value, bool):
        raise ValueError(REMEDY)
    text = tidy_text(value)
    return parse_minutes(text) if text else None


def to_pattern(value: Any) -> BlinkPattern | None:
    """Return a blink pattern from any spelling; None for nothing and for "none"."""
    if isinstance(value, BlinkPattern):
        return value
    text = tidy_text(value)
    return None if text.lower() in ("", "none", "no", "-", "n/a") else BlinkPattern.parse(text)


def to_day(value: Any) -> datetime.date | None:
    """Return a day from 2026-03-18, 20260318 (both ISO 8601-1) or a date; None for nothing."""
    if value is None or value == "" or isinstance(value, datetime.date):
        return value or None
    text = tidy_text(value)
    if found := _ISO_DAY.fullmatch(text):
        try:
            day = datetime.date(*map(int, found.groups()))
        except ValueError:
            raise ValueError(f"{DAY_REMEDY}; there is no such day") from None
        if day.year not in _YEARS:
            raise ValueError(f"{DAY_REMEDY}, with a year from {_YEARS[0]} to {_YEARS[-1]}")
        return day
    if found := _OTHER_DAY.fullmatch(text):
        raise ValueError(f"write {found[1]}-{int(found[2]):02d}-{int(found[3]):02d}")
    raise ValueError(DAY_REMEDY)


def required(reader: Callable[[Any], Value | None]) -> BeforeValidator:
    """Return a reader that refuses an empty value; the field's description says what to write."""

    def read(value: Any) -> Value:
        found = reader(value)
        if found is None or found in ("", ()):
            raise ValueError("")
        return found

    return BeforeValidator(read)


_SPELT = PlainSerializer(lambda value: "" if value is None else str(value))
_MINUTES_SPELT = PlainSerializer(lambda minutes: "" if minutes is None else format_minutes(minutes))

Text = Annotated[str, BeforeValidator(tidy_text)]
RequiredText = Annotated[str, required(tidy_text)]
Texts = Annotated[tuple[str, ...], BeforeValidator(tidy_texts)]
RequiredTexts = Annotated[tuple[str, ...], required(tidy_texts)]
Names = Annotated[tuple[str, ...], BeforeValidator(tidy_names)]
Minutes = Annotated[int | None, BeforeValidator(to_minutes), _MINUTES_SPELT]
RequiredMinutes = Annotated[int, required(to_minutes), _MINUTES_SPELT]
Pattern = Annotated[InstanceOf[BlinkPattern] | None, BeforeValidator(to_pattern), _SPELT]
RequiredDay = Annotated[datetime.date, required(to_day)]
Body = Annotated[str, BeforeValidator(tidy_body)]


def plain_value(value: Any, depth: int = 0) -> Any:
    """Return an unknown field as text, list or mapping. depth: how deep it is nested. Raises: ValueError."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str | int | float):
        return _without_control(str(value))
    if isinstance(value, list | tuple | Mapping) and depth > DEEPEST:
        raise ValueError(f"nest at most {DEEPEST} levels")
    if isinstance(value, list | tuple):
        return [plain_value(item, depth + 1) for item in value]
    if isinstance(value, Mapping):
        return {_plain_key(key): plain_value(item, depth + 1) for key, item in value.items()}
    raise ValueError("write a text, a list or a mapping")


def _plain_key(key: Any) -> str:
    name = tidy_text(key)
    if not name or "\n" in name or len(name) > _LONGEST_KEY:
        raise ValueError(f"name a field with 1 to {_LONGEST_KEY} characters on one line")
    return name
