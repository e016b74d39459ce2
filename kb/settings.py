"""The shop's own settings: what an hour costs, and in which words."""

from __future__ import annotations

from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kb.errors import NoteError, Problem, quoted
from kb.toml_files import read_toml

SETTINGS_FILE = "shop.toml"

_REMEDIES = {
    "labour_rate": "write what an hour at the bench costs, such as labour_rate = 40",
    "currency": 'write the word or sign behind a price, such as currency = "crowns"',
    "minimum_charge": "write the least a job costs, such as minimum_charge = 25",
}

_EXAMPLE = "one setting a line, such as labour_rate = 40"


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
    try:
        text, values = read_toml(root / SETTINGS_FILE, example=_EXAMPLE)
    except FileNotFoundError:
        return ShopSettings()
    except NoteError as error:
        raise SettingsError(error.problems) from error
    try:
        return ShopSettings(**values)
    except ValidationError as error:
        raise SettingsError(_faults(error, text)) from error


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
