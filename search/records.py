"""Records that turn into JSON: each field under its own name, unless a record says otherwise."""

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from search.stats.intervals import Share


@dataclass(frozen=True, kw_only=True, eq=False)
class JsonRecord:
    """A dataclass with a JSON form."""

    def as_json(self) -> dict[str, Any]:
        """Return the record as JSON values."""
        return {each.name: in_json(getattr(self, each.name)) for each in fields(self)}

    def __eq__(self, other: object) -> bool:
        """Compare the JSON of two records, as some fields are functions that only find it."""
        return isinstance(other, JsonRecord) and self.as_json() == other.as_json()


def in_json(value: Any) -> Any:
    """Return a value as JSON can hold it: a date as "2026-01-31", null for nan."""
    if isinstance(value, (str, int)):
        return value  # most values
    if isinstance(value, JsonRecord):
        return value.as_json()
    if isinstance(value, Mapping):
        return {key: in_json(each) for key, each in value.items()}
    if isinstance(value, (tuple, list)):
        return [in_json(each) for each in value]
    if isinstance(value, datetime.date):
        return value.isoformat()
    return None if isinstance(value, float) and not math.isfinite(value) else value


@dataclass(frozen=True, kw_only=True)
class FiguresRecord(JsonRecord):
    """A record whose statistics are laid flat in JSON under the name of their field.

    A share called "success" gives success, success_low, success_high and success_shown, and cases and fixed;
    fix_time gives fix_time_median_min and its bounds; comeback gives comeback_90_days and its bounds.
    """

    def as_json(self) -> dict[str, Any]:
        said = super().as_json()
        for name, value in vars(self).items():
            if isinstance(value, Share):
                said |= value.as_json(name)
                said |= {"cases": value.total, "fixed": value.count} if name == "success" else {}
            elif name == "fix_time":
                del said[name]
                keys = ("median", "low", "high")
                said |= {f"fix_time_{each}_min": getattr(value, each, None) for each in keys}
            elif name == "comeback":
                del said[name]
                ends = {"": "rate", "_low": "low", "_high": "high"}
                said |= {f"comeback_90_days{end}": getattr(value, each, None) for end, each in ends.items()}
        return said
