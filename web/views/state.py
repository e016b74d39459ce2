"""The state of the search page, which is its URL: it can be kept, sent to the next bench and undone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Self
from urllib.parse import urlencode

from werkzeug.datastructures import MultiDict

DEFAULT_LIMIT, MOST_CASES = 20, 200  # past repairs to list; chosen by us
# Chosen by us: nobody types more, and each of a page's many links carries the whole state (test_hostile).
LONGEST_Q, LONGEST_NAME, MOST_RULED_OUT = 10_000, 500, 200


def asked_name(args: Mapping[str, str], name: str) -> str:
    """Return a name in a URL's query, "" when it is missing; of one too long for a name, the beginning."""
    return args.get(name, "").strip()[:LONGEST_NAME]


@dataclass(frozen=True, kw_only=True)
class SearchState:
    """What the technician has said so far.

    rule_out: root causes checked and found not to be it, in the order in which they were ruled out.
    limit: how many past repairs to list, 1 to 200.
    """

    q: str = ""
    family: str = ""
    blinks: str = ""
    rule_out: tuple[str, ...] = ()
    limit: int = DEFAULT_LIMIT

    @classmethod
    def from_args(cls, args: MultiDict[str, str]) -> Self:
        """Read the state from a URL's query; what cannot be read falls back to its default."""
        asked = args.get("limit", "")
        limit = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 6 else DEFAULT_LIMIT
        ruled_out = (cause.strip()[:LONGEST_NAME] for cause in args.getlist("rule_out"))
        return cls(
            q=args.get("q", "").strip()[:LONGEST_Q],
            family=asked_name(args, "family"),
            blinks=asked_name(args, "blinks"),
            rule_out=tuple(dict.fromkeys(cause for cause in ruled_out if cause))[:MOST_RULED_OUT],
            limit=min(max(limit, 1), MOST_CASES),
        )

    @property
    def empty(self) -> bool:
        """Tell whether nothing was asked yet."""
        return not (self.q or self.family or self.blinks)

    def ruling_out(self, cause: str) -> SearchState:
        """Return the state after one more cause was checked and found not to be it."""
        return replace(self, rule_out=tuple(dict.fromkeys((*self.rule_out, cause))))

    def taking_back(self, cause: str) -> SearchState:
        """Return the state with a ruled-out cause back in play."""
        return replace(self, rule_out=tuple(each for each in self.rule_out if each != cause))

    def changed(self, **changes: Any) -> SearchState:
        """Return the state with some of its parts replaced."""
        return replace(self, **changes)

    def pairs(self) -> list[tuple[str, str]]:
        """Return the state as query pairs, defaults left out."""
        pairs = [("q", self.q), ("family", self.family), ("blinks", self.blinks)]
        pairs += [("rule_out", cause) for cause in self.rule_out]
        if self.limit != DEFAULT_LIMIT:
            pairs.append(("limit", str(self.limit)))
        return [(name, value) for name, value in pairs if value]

    def url(self, path: str = "/", extra: Mapping[str, str] | None = None) -> str:
        """Return the address of this state on `path`, with `extra` pairs after its own."""
        query = urlencode([*self.pairs(), *(extra or {}).items()])
        return f"{path}?{query}" if query else path
