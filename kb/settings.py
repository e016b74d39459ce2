"""The shop's own settings: what an hour costs, and in which words."""

from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kb.errors import NoteError, Problem, quoted
from kb.toml_files import TomlFile, read_toml

SETTINGS_FILE = "shop.toml"
_EXAMPLE = "one setting a line, such as labour_rate = 40"


class ShopSettings(BaseModel):
    """What shop.toml says; None or "" where it says nothing.

    labour_rate: money for an hour at the bench. minimum_charge: the least a job costs, labour and parts.
    currency: the word or sign that stands behind an amount.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    labour_rate: float | None = Field(
        default=None,
        ge=0,
        strict=True,
        description="write what an hour at the bench costs, such as labour_rate = 40",
    )
    currency: str = Field(
        default="", description='write the word or sign behind a price, such as currency = "crowns"'
    )
    minimum_charge: float = Field(
        default=0.0, ge=0, strict=True, description="write the least a job costs, such as minimum_charge = 25"
    )


def load_settings(root: Path) -> ShopSettings:
    """Read shop.toml in a notebook's folder; without the file, nothing is set.

    Raises: NoteError naming file, line or setting, what stands there and what to write.
    """
    file = read_toml(root / SETTINGS_FILE, example=_EXAMPLE)
    try:
        return ShopSettings.model_validate(file.values)
    except ValidationError as error:
        raise NoteError(_problem(file, fault) for fault in error.errors()) from error


def _problem(file: TomlFile, fault: Any) -> Problem:
    name, settings = str(fault["loc"][0]), ShopSettings.model_fields
    if name not in settings:
        return file.problem(name, "not a setting", f"only {', '.join(settings)} can be set here")
    return file.problem(name, quoted(fault["input"]), settings[name].description or "")
