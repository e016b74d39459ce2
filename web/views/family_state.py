"""The state of a family's page, which is its URL: which family, and which of its cases are counted."""

import datetime
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Self
from urllib.parse import quote, urlencode

from kb.notes.case import Outcome
from web.views.state import asked_name

# Addresses below /families/ that are pages of their own.
RESERVED = frozenset({"new"})


def family_address(name: str, pairs: Mapping[str, str] | None = None) -> str:
    """Return the address of a family's page.

    Most names stand in the path as they are. One that a path cannot carry (a leading slash, two in a row, a
    dot between slashes, a line break), or that is another page's address, goes into the query instead.
    """
    segments = name.split("/")
    awkward = (
        name in RESERVED
        or (segments[-1] == "edit" and len(segments) > 1)
        or not {"", ".", ".."}.isdisjoint(segments)
        or not name.isprintable()
    )
    query = {**({"name": name} if awkward else {}), **(pairs or {})}
    path = "/families/" if awkward else "/families/" + quote(name, safe="/")
    return f"{path}?{urlencode(query)}" if query else path


def parse_day(said: str) -> datetime.date:
    """Read a day, or the first day of a month or year: 2025-06-30, 2025-06, 2025. Raises: ValueError."""
    return datetime.date.fromisoformat(said + {4: "-01-01", 7: "-01"}.get(len(said), ""))


def parse_money(said: str) -> float:
    """Read an amount of money from 0, with a point or a comma before the cents. Raises: ValueError."""
    amount = float(said.replace(",", "."))
    if not (math.isfinite(amount) and amount >= 0):
        raise ValueError(said)
    return amount


def say_amount(amount: float | None) -> str:
    """Say an amount as it is typed: "12.50", "150"; "" for none."""
    return "" if amount is None else f"{amount:.2f}".removesuffix(".00")


# How each field of a URL's query is read, and what to write where it cannot be.
_READERS: Mapping[str, tuple[Callable[[str], Any], str]] = {
    "outcome": (lambda said: Outcome(said).value, f"one of {', '.join(Outcome)}"),
    "model": (str, "a model"),
    "since": (parse_day, "a date 2025-06-30, a month 2025-06 or a year 2025"),
    "parts_cost": (parse_money, "an amount such as 12.50"),
    "worth": (parse_money, "an amount such as 150"),
}


@dataclass(frozen=True, kw_only=True)
class FamilyState:
    """Which cases of a family are counted, and what is known of the job to be quoted.

    outcome, model: "" for all. since: the first day counted, None for all. parts_cost, worth: money, what the
    parts will cost and what the set is worth to its owner; None where not said. trouble: what was asked for
    and could not be understood, by field, with what to write instead; it counts as not said.
    """

    outcome: str = ""
    model: str = ""
    since: datetime.date | None = None
    parts_cost: float | None = None
    worth: float | None = None
    trouble: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def from_args(cls, args: Mapping[str, str]) -> Self:
        """Read the state from a URL's query."""
        found: dict[str, Any] = {}
        trouble: dict[str, str] = {}
        for name, (read, remedy) in _READERS.items():
            if said := asked_name(args, name):
                try:
                    found[name] = read(said)
                except ValueError:
                    trouble[name] = f"{said!r}: write {remedy}"
        return cls(trouble=trouble, **found)

    @property
    def sliced(self) -> bool:
        """Tell whether anything is left out."""
        return bool(self.outcome or self.model or self.since)

    def pairs(self) -> dict[str, str]:
        """Return the state as a URL's query, defaults left out."""
        said = {
            "outcome": self.outcome,
            "model": self.model,
            "since": self.since.isoformat() if self.since else "",
            "parts_cost": say_amount(self.parts_cost),
            "worth": say_amount(self.worth),
        }
        return {name: value for name, value in said.items() if value}

    def said(self) -> str:
        """Say in words which cases are counted: "fixed, HV-43L2, since 2025-01-01"; "" for all."""
        since = f"since {self.since.isoformat()}" if self.since else ""
        return ", ".join(part for part in (self.outcome, self.model, since) if part)
