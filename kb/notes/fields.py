"""Turn what stands in a field into a value. Shared by case notes and family notes."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator, InstanceOf, ValidationError

from kb.errors import Problem, quoted
from kb.notes.blinks import BlinkPattern
from kb.notes.durations import LONGEST_MIN, parse_minutes
from kb.notes.frontmatter import CONTROL, DEEPEST, FrontMatter

NOTHING = "nothing"  # what stands in a field that is missing or empty

_ISO_DAY = re.compile(r"([0-9]{4})-?([0-9]{2})-?([0-9]{2})")
_OTHER_DAY = re.compile(r"([0-9]{4})[-/. ]([0-9]{1,2})[-/. ]([0-9]{1,2})(?:[T ].*)?")
_DAY_REMEDY = "write the day as 2026-03-18 (year-month-day)"
_YEARS = range(1950, 2200)  # chosen by us: no repair note is older, and a later year is a slip (test_case)
_LONGEST_KEY = 100  # chosen by us; YAML itself ends at 1024 characters
LONGEST_TEXT = (
    5_000  # characters; chosen by us: two pages; what is longer belongs in the body (tests/web/hostile)
)


def tidy_text(value: Any) -> str:
    """Return one text, its line ends as "\\n" and without blanks at the ends of lines.

    Raises: ValueError with a remedy for a list, a mapping, a yes/no value, a control character, or a text
    that is far too long.
    """
    if value is None:
        return ""
    if isinstance(value, Mapping):
        raise ValueError("put the text in quotes, because it holds a colon")
    if isinstance(value, list | tuple | set | frozenset):
        raise ValueError("write one text, not a list")
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueError("write a text")
    text = str(value).replace("\r\n", "\n").replace("\r", "\n")
    if bad := CONTROL.search(text):
        raise ValueError(f"delete the control character {bad[0]!r}")
    if len(text) > LONGEST_TEXT:
        raise ValueError(f"write at most {LONGEST_TEXT:,} characters here and the rest below the fields")
    return "\n".join(line.rstrip() for line in text.split("\n")).strip()


def tidy_texts(value: Any) -> tuple[str, ...]:
    """Return a list of texts, each on one line, empty ones left out; one text counts as a list of one."""
    if isinstance(value, list | tuple):
        for item in value:
            if isinstance(item, list | tuple | Mapping):
                raise ValueError("write a list of texts, and put one that holds a colon in quotes")
        texts = [" ".join(tidy_text(item).split()) for item in value]
    else:
        texts = [" ".join(tidy_text(value).split())]
    return tuple(text for text in texts if text)


def tidy_names(value: Any) -> tuple[str, ...]:
    """Return a list of names in small letters, each once."""
    return tuple(dict.fromkeys(text.casefold() for text in tidy_texts(value)))


def tidy_body(value: Any) -> str:
    """Return a markdown body without blank lines at its start and end, line ends as "\\n"."""
    if value is None:
        return ""
    if not isinstance(value, str):
        raise ValueError("write a text")
    text = value.replace("\r\n", "\n").replace("\r", "\n")
    if bad := CONTROL.search(text):
        raise ValueError(f"delete the control character {bad[0]!r}")
    return re.sub(r"\A(?:[ \t]*\n)+", "", text.rstrip())


def to_minutes(value: Any) -> int | None:
    """Return bench minutes from a number or from any spelling of a duration; None for nothing."""
    if isinstance(value, bool):
        raise ValueError('write bench minutes as "55 min" or "1 h 20 min"')
    if isinstance(value, int):
        if not 0 <= value <= LONGEST_MIN:
            raise ValueError(f"write bench minutes from 0 to {LONGEST_MIN}")
        return value
    text = tidy_text(value)
    return parse_minutes(text) if text else None


def to_pattern(value: Any) -> BlinkPattern | None:
    """Return a blink pattern from any spelling; None for nothing and for "none"."""
    if isinstance(value, BlinkPattern):
        return value
    text = tidy_text(value)
    return None if text.lower() in ("", "none", "no", "-", "n/a") else BlinkPattern.parse(text)


def to_day(value: Any) -> datetime.date:
    """Return a day from 2026-03-18, 20260318 (both ISO 8601-1) or a date."""
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    text = tidy_text(value)
    if found := _ISO_DAY.fullmatch(text):
        try:
            day = datetime.date(int(found[1]), int(found[2]), int(found[3]))
        except ValueError:
            raise ValueError(f"{_DAY_REMEDY}; there is no such day") from None
        if day.year not in _YEARS:
            raise ValueError(f"{_DAY_REMEDY}, with a year from {_YEARS[0]} to {_YEARS[-1]}")
        return day
    if found := _OTHER_DAY.fullmatch(text):
        raise ValueError(f"write {found[1]}-{int(found[2]):02d}-{int(found[3]):02d}")
    raise ValueError(_DAY_REMEDY)


def _required_text(value: Any) -> str:
    text = tidy_text(value)
    if not text:
        raise ValueError("")
    return text


def _required_texts(value: Any) -> tuple[str, ...]:
    texts = tidy_texts(value)
    if not texts:
        raise ValueError("")
    return texts


def _required_minutes(value: Any) -> int:
    minutes = to_minutes(value)
    if minutes is None:
        raise ValueError("")
    return minutes


def _required_day(value: Any) -> datetime.date:
    if value is None or value == "":
        raise ValueError("")
    return to_day(value)


Text = Annotated[str, BeforeValidator(tidy_text)]
RequiredText = Annotated[str, BeforeValidator(_required_text)]
Texts = Annotated[tuple[str, ...], BeforeValidator(tidy_texts)]
RequiredTexts = Annotated[tuple[str, ...], BeforeValidator(_required_texts)]
Names = Annotated[tuple[str, ...], BeforeValidator(tidy_names)]
Minutes = Annotated[int | None, BeforeValidator(to_minutes)]
RequiredMinutes = Annotated[int, BeforeValidator(_required_minutes)]
Pattern = Annotated[InstanceOf[BlinkPattern] | None, BeforeValidator(to_pattern)]
RequiredDay = Annotated[datetime.date, BeforeValidator(_required_day)]
Body = Annotated[str, BeforeValidator(tidy_body)]


def plain_value(value: Any, depth: int = 0) -> Any:
    """Return unknown fields, or the value of one, as texts, lists and mappings of texts, to be kept.

    depth: how many lists and mappings are around it, that of the fields included.
    Raises: ValueError with a remedy.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str | int | float):
        text = str(value).replace("\r\n", "\n").replace("\r", "\n")
        if bad := CONTROL.search(text):
            raise ValueError(f"delete the control character {bad[0]!r}")
        return text
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


def plain_fields(value: Any, known: Iterable[str]) -> dict[str, Any]:
    """Return unknown fields as they are kept.

    Raises: ValueError when one has the name of a known field, or holds what cannot be written.
    """
    kept: dict[str, Any] = plain_value(value or {})
    for name in kept:
        if name in known:
            raise ValueError(f"use another name than {quoted(name)}")
    return kept


def keep_unknown(
    values: Mapping[str, Any], known: Iterable[str]
) -> tuple[dict[str, Any], list[tuple[str, str, str]]]:
    """Return the fields that are not among the known ones, and the faults of those that cannot be kept."""
    kept: dict[str, Any] = {}
    faults: list[tuple[str, str, str]] = []
    for key, value in values.items():
        if key in known:
            continue
        try:
            kept |= plain_fields({key: value}, known)
        except ValueError as error:
            faults.append((str(key), quoted(_shown(value)), str(error)))
    return kept, faults


def believable(faults: list[tuple[str, str, str]], front: FrontMatter) -> list[tuple[str, str, str]]:
    """Return the faults without those that are not sure.

    Left out is what only seems missing because its line, or the end of the fields, could not be read.
    """
    return [
        fault
        for fault in faults
        if fault[0] not in front.broken
        and not (fault[1] == NOTHING and not front.complete and fault[0] not in front.entries)
    ]


def problems_of(
    error: ValidationError, *, names: Mapping[str, str], remedies: Mapping[str, str]
) -> list[tuple[str, str, str]]:
    """Return (field, what stands there, what to write instead) for each fault pydantic found.

    names: from attribute to front matter key, where they differ. remedies: by key, for an empty field.
    """
    faults = []
    for fault in error.errors(include_url=False):
        name = str(fault["loc"][0]) if fault["loc"] else "note"
        key = names.get(name, name)
        cause = fault.get("ctx", {}).get("error")
        remedy = str(cause) if cause is not None else fault["msg"]
        if fault["type"] == "missing" or not remedy:
            faults.append((key, NOTHING, remedies.get(key, "write a value")))
        else:
            faults.append((key, quoted(_shown(fault["input"])), remedy))
    return faults


def place(
    faults: Iterable[tuple[str, str, str]], *, file: str, lines: Mapping[str, int], otherwise: int
) -> list[Problem]:
    """Give each fault its file and line; a field that is missing is reported on the line `otherwise`."""
    return [
        Problem(file=file, line=lines.get(key, otherwise), field=key, found=found, remedy=remedy)
        for key, found, remedy in faults
    ]


def _shown(value: Any, depth: int = 0) -> Any:
    if depth > 2 and isinstance(value, list | tuple | Mapping):
        return "..."
    if isinstance(value, list | tuple):
        return f"[{', '.join(str(_shown(item, depth + 1)) for item in value)}]"
    if isinstance(value, Mapping):
        return ", ".join(f"{key}: {_shown(item, depth + 1)}" for key, item in value.items())
    return "" if value is None else value
