"""The shop's own settings, from shop.toml: what an hour costs, in which currency, and the least charge."""

from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kb.errors import NoteError, Problem, quoted
from kb.files import read_toml

SETTINGS_FILE = "shop.toml"
_MOST = 1e9  # chosen by us: in no currency does an hour cost more
_RATE = "write what an hour at the bench costs, such as labour_rate = 40"
_CURRENCY = 'write the word or sign behind a price, such as currency = "crowns"'
_LEAST = "write the least a job costs, such as minimum_charge = 25"


class ShopSettings(BaseModel):
    """What shop.toml says. minimum_charge: for labour and parts together."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    labour_rate: float | None = Field(default=None, ge=0, le=_MOST, strict=True, description=_RATE)
    currency: str = Field(default="", description=_CURRENCY)
    minimum_charge: float = Field(default=0.0, ge=0, le=_MOST, strict=True, description=_LEAST)


def settings_or_trouble(root: Path) -> tuple[ShopSettings, tuple[Problem, ...]]:
    """Return a notebook's settings, and the problems of its shop.toml, whose settings then have defaults."""
    try:
        file = read_toml(root / SETTINGS_FILE, example="one setting a line, such as labour_rate = 40")
        return ShopSettings.model_validate(file.values), ()
    except NoteError as error:
        return ShopSettings(), error.problems
    except ValidationError as error:
        faults = {str(fault["loc"][0]): quoted(fault["input"]) for fault in error.errors()}
    fields = ShopSettings.model_fields
    known = {name: (faults.get(name, ""), each.description or "") for name, each in fields.items()}
    other = "not a setting", f"only {', '.join(fields)} can be set here"
    return ShopSettings(), NoteError(file.problem(name, *known.get(name, other)) for name in faults).problems
