"""The shop's own settings: what an hour costs, and in which words."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kb.errors import BenchloreError, quoted
from kb.files import read_file

SETTINGS_FILE = "shop.toml"

_REMEDIES = {
    "labour_rate": "write what an hour at the bench costs, such as labour_rate = 40",
    "currency": 'write the word or sign behind a price, such as currency = "crowns"',
    "minimum_charge": "write the least a job costs, such as minimum_charge = 25",
}


class SettingsError(BenchloreError):
    """Say what is wrong in shop.toml and what to write instead."""


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
        raise SettingsError(
            f"{SETTINGS_FILE}: cannot be read ({error.strerror}); make it a readable file"
        ) from error
    return _parse(data)


def _parse(data: bytes) -> ShopSettings:
    """Turn the file's bytes into settings, or say what is wrong with them."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SettingsError(f"{SETTINGS_FILE}:{line}: bytes that are not UTF-8; save it as UTF-8") from error
    try:
        values: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(
            f"{SETTINGS_FILE}: {error}; write one setting a line, such as labour_rate = 40"
        ) from error
    try:
        return ShopSettings(**values)
    except ValidationError as error:
        raise SettingsError("\n".join(_complaints(error, text))) from error


def _complaints(error: ValidationError, text: str) -> list[str]:
    """Return one line for each setting at fault."""
    lines = []
    for fault in error.errors():
        name = str(fault["loc"][0])
        number = next(
            (
                i
                for i, line in enumerate(text.splitlines(), start=1)
                if line.split("=")[0].strip(" []\"'") == name
            ),
            1,
        )
        remedy = _REMEDIES.get(name, f"only {', '.join(_REMEDIES)} can be set here")
        found = "not a setting" if fault["type"] == "extra_forbidden" else quoted(fault["input"])
        lines.append(f"{SETTINGS_FILE}:{number}: {name}: {found}; {remedy}")
    return lines
