"""The shop's own settings: what an hour costs, and in which words."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kb.errors import NoteError, Problem, quoted
from kb.files import read_file

SETTINGS_FILE = "shop.toml"

_REMEDIES = {
    "labour_rate": "write what an hour at the bench costs, such as labour_rate = 40",
    "currency": 'write the word or sign behind a price, such as currency = "crowns"',
    "minimum_charge": "write the least a job costs, such as minimum_charge = 25",
}


_TOML_LINE = re.compile(r" ?\(at line (\d+), column \d+\)| ?\(at end of document\)")


class SettingsError(NoteError):
    """Carry every problem of shop.toml at once."""


class ShopSettings(BaseModel):
    """What shop.toml says; None or "" where it says nothing.

    labour_rate: money for an hour at the bench. minimum_charge: the least a job costs, labour and parts.
    currency: the word or sign that stands behind an amount.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    labour_rate: float | None = Field(default=None, ge=0, strict=True)
    currency: str = ""
    minimum_charge: float = Field(default=0.0, ge=0, strict=True)


def load_settings(root: Path) -> ShopSettings:
    """Read shop.toml in a notebook's folder; without the file, nothing is set.

    Raises: SettingsError naming file, line or setting, what stands there and what to write.
    """
    path = root / SETTINGS_FILE
    try:
        data = read_file(path, within=root)
    except FileNotFoundError:
        return ShopSettings()
    except OSError as error:
        raise _error(1, "file", f"cannot be read ({error.strerror})", "make it a readable file") from error
    return _parse(data)


def _parse(data: bytes) -> ShopSettings:
    """Turn the file's bytes into settings, or say what is wrong with them."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _error(line, "file", "bytes that are not UTF-8", "save it as UTF-8") from error
    try:
        values: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = _TOML_LINE.search(str(error))
        trouble = _TOML_LINE.sub("", str(error))
        line = int(found[1]) if found else len(text.splitlines())
        raise _error(line, "file", trouble, "write one setting a line, such as labour_rate = 40") from error
    try:
        return ShopSettings(**values)
    except ValidationError as error:
        raise SettingsError(_faults(error, text)) from error


def _error(line: int, field: str, found: str, remedy: str) -> SettingsError:
    return SettingsError([Problem(file=SETTINGS_FILE, line=line, field=field, found=found, remedy=remedy)])


def _faults(error: ValidationError, text: str) -> list[Problem]:
    """Return the problem of each setting at fault."""
    lines = [line.split("=")[0].strip(" []\"'") for line in text.splitlines()]
    problems = []
    for fault in error.errors():
        name = str(fault["loc"][0])
        problems.append(
            Problem(
                file=SETTINGS_FILE,
                line=lines.index(name) + 1 if name in lines else 1,
                field=name,
                found="not a setting" if fault["type"] == "extra_forbidden" else quoted(fault["input"]),
                remedy=_REMEDIES.get(name, f"only {', '.join(_REMEDIES)} can be set here"),
            )
        )
    return problems


def settings_problems(root: Path) -> tuple[Problem, ...]:
    """Return what is wrong with a notebook's shop.toml, if anything."""
    try:
        load_settings(root)
    except SettingsError as error:
        return error.problems
    return ()
