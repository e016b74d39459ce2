"""The state of a family's page, which is its URL: which family, and which of its cases are counted."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Self
from urllib.parse import quote, urlencode

from kb.case import Outcome

# Addresses below /families/ that are pages of their own.
RESERVED = frozenset({"new"})


def family_address(name: str, pairs: Mapping[str, str] | None = None) -> str:
    """Return the address of a family's page.

    Most names stand in the path as they are. One that a path cannot carry (a leading slash, two in a row, a
    dot between slashes), or that is another page's address, goes into the query instead.
    """
    segments = name.split("/")
    awkward = (
        name in RESERVED or (segments[-1] == "edit" and len(segments) > 1) or {"", ".", ".."} & {*segments}
    )
    query = {**({"name": name} if awkward else {}), **(pairs or {})}
    path = "/families/" if awkward else "/families/" + quote(name, safe="/")
    return f"{path}?{urlencode(query)}" if query else path


@dataclass(frozen=True, kw_only=True)
class FamilyState:
    """Which cases of a family are counted.

    outcome, model: "" for all. since: the first day counted, None for all. trouble: what was asked for and
    could not be understood, by field, with what to write instead; it is left out of the slice.
    """

    outcome: str = ""
    model: str = ""
    since: datetime.date | None = None
    trouble: Mapping[str, str] | None = None

    @classmethod
    def from_args(cls, args: Mapping[str, str]) -> Self:
        """Read the state from a URL's query."""
        trouble = {}
        outcome = args.get("outcome", "").strip()
        if outcome and outcome not in [each.value for each in Outcome]:
            trouble["outcome"] = f"{outcome!r}: write one of {', '.join(Outcome)}"
            outcome = ""
        since, said = None, args.get("since", "").strip()
        if said:
            try:
                since = parse_day(said)
            except ValueError:
                trouble["since"] = (
                    f"{said!r}: write a date such as 2025-06-30, a month 2025-06 or a year 2025"
                )
        return cls(outcome=outcome, model=args.get("model", "").strip(), since=since, trouble=trouble)

    @property
    def sliced(self) -> bool:
        """Tell whether anything is left out."""
        return bool(self.outcome or self.model or self.since)

    def pairs(self) -> dict[str, str]:
        """Return the state as a URL's query, defaults left out."""
        since = self.since.isoformat() if self.since else ""
        said = {"outcome": self.outcome, "model": self.model, "since": since}
        return {name: value for name, value in said.items() if value}

    def said(self) -> str:
        """Say in words which cases are counted: "fixed, HV-43L2, since 2025-01-01"; "" for all."""
        since = f"since {self.since.isoformat()}" if self.since else ""
        return ", ".join(part for part in (self.outcome, self.model, since) if part)


def parse_day(said: str) -> datetime.date:
    """Read a day, or the first day of a month or year: 2025-06-30, 2025-06, 2025.

    Raises: ValueError for anything else.
    """
    parts = said.split("-")
    if len(parts) < 3 and all(part.isascii() and part.isdigit() for part in parts) and len(parts[0]) == 4:
        return datetime.date(int(parts[0]), int(parts[1]) if len(parts) == 2 else 1, 1)
    return datetime.date.fromisoformat(said)
