"""The states of the search and of a family's page, as read from and written to their URLs."""

import datetime
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, Literal, Self
from urllib.parse import quote, quote_plus, urlencode

from werkzeug.datastructures import MultiDict

from kb.notes.case import Outcome

DEFAULT_LIMIT, MOST_CASES = 8, 200  # past repairs to list: two screens of a telephone; chosen by us
# Chosen by us: nobody types more, and every link of a page carries all of it (tests/web/hostile).
LONGEST_Q, LONGEST_NAME, MOST_RULED_OUT = 5_000, 500, 200
Mode = Literal["bench", "phone"]
_quote_once = lru_cache(maxsize=1_024)(quote_plus)  # most of a page's many links say the same


def asked_name(args: Mapping[str, str], name: str) -> str:
    """Return a name in a URL's query, "" if it is missing; one that is too long is cut."""
    return args.get(name, "").strip()[:LONGEST_NAME]


@dataclass(frozen=True, kw_only=True)
class SearchState:
    """What the technician has said so far.

    rule_out: root causes ruled out, in that order. found: the cause that it proved to be. noted: (cause, what
    was measured). yes, no: concepts that the owner said yes or no to. literal: take denied and past words as
    they stand. limit: how many past repairs to list.
    """

    q: str = ""
    family: str = ""
    blinks: str = ""
    rule_out: tuple[str, ...] = ()
    found: str = ""
    noted: tuple[tuple[str, str], ...] = ()
    yes: tuple[str, ...] = ()
    no: tuple[str, ...] = ()
    literal: bool = False
    mode: Mode = "bench"
    limit: int = DEFAULT_LIMIT

    @classmethod
    def from_args(cls, args: MultiDict[str, str]) -> Self:
        """Read the state from a URL's query; what cannot be read falls back to its default."""
        asked = args.get("limit", "")
        limit = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 6 else DEFAULT_LIMIT
        # A form sends a cause and what was measured as two parameters; the last one counts, "" deletes it.
        noted = dict(zip(_names(args, "at"), _names(args, "noted"), strict=False))
        yes = _once(_names(args, "yes"))
        return cls(
            q=args.get("q", "").strip()[:LONGEST_Q],
            family=asked_name(args, "family"),
            blinks=asked_name(args, "blinks"),
            rule_out=_once(_names(args, "rule_out")),
            found=asked_name(args, "found"),
            noted=tuple((cause, value) for cause, value in noted.items() if cause and value)[:MOST_RULED_OUT],
            yes=yes,
            no=tuple(each for each in _once(_names(args, "no")) if each not in yes),
            literal=args.get("literal") == "1",
            mode="phone" if args.get("mode") == "phone" else "bench",
            limit=min(max(limit, 1), MOST_CASES),
        )

    @property
    def empty(self) -> bool:
        """Tell whether nothing was asked yet."""
        return not (self.q or self.family or self.blinks or self.yes)

    def taking_back(self, cause: str) -> Self:
        """Return the state with a cause no longer ruled out."""
        return replace(self, rule_out=tuple(each for each in self.rule_out if each != cause))

    def told(self, concept: str, said: bool | None) -> Self:
        """Return the state after the owner's yes or no about a concept; None takes the answer back."""
        yes, no = (tuple(each for each in told if each != concept) for told in (self.yes, self.no))
        return replace(self, yes=(*yes, concept) if said else yes, no=(*no, concept) if said is False else no)

    def changed(self, **changes: Any) -> Self:
        """Return the state with some of its parts replaced."""
        return replace(self, **changes)

    def pairs(self, *, worked: bool = False) -> list[tuple[str, str]]:
        """Return the state as query pairs without defaults. worked: only what came after the complaint."""
        pairs = [] if worked else [("q", self.q), ("family", self.family), ("blinks", self.blinks)]
        pairs += [*(("rule_out", cause) for cause in self.rule_out), ("found", self.found)]
        pairs += [pair for cause, value in self.noted for pair in (("at", cause), ("noted", value))]
        pairs += [("yes", concept) for concept in self.yes] + [("no", concept) for concept in self.no]
        pairs += [("literal", "1" if self.literal else ""), ("mode", self.mode.removeprefix("bench"))]
        pairs += [("limit", "" if self.limit == DEFAULT_LIMIT else str(self.limit))]
        return [(name, value) for name, value in pairs if value]

    def url(self, path: str = "/", extra: Mapping[str, str] | None = None) -> str:
        """Return the address of this state at `path`, with `extra` pairs that are not empty."""
        more = [pair for pair in (extra or {}).items() if pair[1]]
        query = urlencode([*self.pairs(), *more], quote_via=_quote_once)
        return f"{path}?{query}" if query else path


def _names(args: MultiDict[str, str], name: str) -> list[str]:
    return [value.strip()[:LONGEST_NAME] for value in args.getlist(name)]


def _once(names: tuple[str, ...] | list[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(filter(None, names)))[:MOST_RULED_OUT]


def family_address(name: str, pairs: Mapping[str, str] | None = None) -> str:
    """Return the address of a family's page.

    A name that no path can carry ("/a", "a//b", "a/./b", a line break), or that is another page's address,
    goes into the query.
    """
    segments = name.split("/")
    other_page = name == "new" or (segments[-1] == "edit" and len(segments) > 1)
    awkward = other_page or not name.isprintable() or not {"", ".", ".."}.isdisjoint(segments)
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


# How each field of a URL's query is read, and what to write if it cannot be.
_READERS: Mapping[str, tuple[Callable[[str], Any], str]] = {
    "outcome": (lambda said: Outcome(said).value, f"one of {', '.join(Outcome)}"),
    "model": (str, "a model"),
    "since": (parse_day, "a date 2025-06-30, a month 2025-06 or a year 2025"),
    "parts_cost": (parse_money, "an amount such as 12.50"),
    "worth": (parse_money, "an amount such as 150"),
}


@dataclass(frozen=True, kw_only=True)
class FamilyState:
    """Which cases of a family are counted, and what is known of the job to quote.

    outcome, model: "" for all. since: first day counted, None for all. parts_cost, worth: what the parts will
    cost and what the set is worth to its owner; None if not said. trouble: by field, what could not be
    understood, with what to write instead; such a field counts as not said.
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

    def pairs(self) -> dict[str, str]:
        """Return the state as a URL's query without defaults."""
        said = {"outcome": self.outcome, "model": self.model, "since": str(self.since or "")}
        said |= {"parts_cost": say_amount(self.parts_cost), "worth": say_amount(self.worth)}
        return {name: value for name, value in said.items() if value}

    def said(self) -> str:
        """Say in words which cases are counted: "fixed, HV-43L2, since 2025-01-01"; "" for all."""
        since = f"since {self.since}" if self.since else ""
        return ", ".join(filter(None, (self.outcome, self.model, since)))
