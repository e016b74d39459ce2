"""The state of the search page, which is its URL: it can be kept, sent to the next bench and undone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, Self
from urllib.parse import urlencode

from werkzeug.datastructures import MultiDict

DEFAULT_LIMIT, MOST_CASES = 8, 200  # past repairs to list: two screens of a telephone; chosen by us
# Chosen by us: nobody types more, and each of a page's many links carries all of it (tests/web/hostile).
LONGEST_Q, LONGEST_NAME, MOST_RULED_OUT = 5_000, 500, 200
Mode = Literal["bench", "phone"]


def asked_name(args: Mapping[str, str], name: str) -> str:
    """Return a name in a URL's query, "" when it is missing; of one too long for a name, the beginning."""
    return args.get(name, "").strip()[:LONGEST_NAME]


@dataclass(frozen=True, kw_only=True)
class SearchState:
    """What the technician has said so far.

    rule_out: root causes found not to be it, in the order of ruling out. found: the one that it
    proved to be. noted: what was measured, by cause. yes, no: ideas that the owner said yes or no to when
    asked. literal: take denied and past words as they stand. limit: how many past repairs to list.
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
        # A cause and its reading are two parameters, as a form sends them; the last reading counts, "" none.
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

    def ruling_out(self, cause: str) -> SearchState:
        """Return the state after one more cause was checked and found not to be it."""
        return replace(self, rule_out=_once((*self.rule_out, cause)), found="")

    def taking_back(self, cause: str) -> SearchState:
        """Return the state with a ruled-out cause back in play."""
        return replace(self, rule_out=tuple(each for each in self.rule_out if each != cause))

    def told(self, concept: str, said: bool | None) -> SearchState:
        """Return the state after the owner said yes or no to a question, or with that taken back (None)."""
        yes, no = (tuple(each for each in told if each != concept) for told in (self.yes, self.no))
        return replace(self, yes=(*yes, concept) if said else yes, no=(*no, concept) if said is False else no)

    def changed(self, **changes: Any) -> SearchState:
        """Return the state with some of its parts replaced."""
        return replace(self, **changes)

    def pairs(self, *, worked: bool = False) -> list[tuple[str, str]]:
        """Return the state as query pairs, defaults left out.

        worked: only what came after the question, which a form with boxes for the question keeps hidden.
        """
        pairs = [] if worked else [("q", self.q), ("family", self.family), ("blinks", self.blinks)]
        pairs += [*(("rule_out", cause) for cause in self.rule_out), ("found", self.found)]
        pairs += [pair for cause, value in self.noted for pair in (("at", cause), ("noted", value))]
        pairs += [("yes", concept) for concept in self.yes] + [("no", concept) for concept in self.no]
        pairs += [("literal", "1" if self.literal else ""), ("mode", self.mode.removeprefix("bench"))]
        pairs += [("limit", "" if self.limit == DEFAULT_LIMIT else str(self.limit))]
        return [(name, value) for name, value in pairs if value]

    def url(self, path: str = "/", extra: Mapping[str, str] | None = None) -> str:
        """Return the address of this state on `path`, with `extra` pairs after its own."""
        query = urlencode([*self.pairs(), *(extra or {}).items()])
        return f"{path}?{query}" if query else path


def _names(args: MultiDict[str, str], name: str) -> list[str]:
    return [value.strip()[:LONGEST_NAME] for value in args.getlist(name)]


def _once(names: tuple[str, ...] | list[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(filter(None, names)))[:MOST_RULED_OUT]
