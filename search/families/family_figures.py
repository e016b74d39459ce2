"""What is said about one chassis family: the figures and their JSON."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kb.notes.case import Outcome
from kb.notes.family import FamilyNote
from search.families.blinks import BlinkFigures
from search.families.spares import PartFigures
from search.planning.bench_time import BenchTime
from search.planning.checks import Check, CheckPlan
from search.records import FiguresRecord, JsonRecord, in_json
from search.stats.intervals import MedianInterval, Share
from search.stats.survival import ComebackRate

# Fields of FamilyFigures that its JSON has in another form, and fields of the note that it has as they are.
INNER_FIELDS = ("note", "order", "bench_time", "case_models")
NOTE_FIELDS = ("caution", "before_power", "tell_owner", "while_open", "body")


@dataclass(frozen=True, kw_only=True)
class CauseFigures(FiguresRecord):
    """One root cause within a family.

    share: of the family's cases. success: fixed, of the cause's cases. fix_time: of those fixed, else of all.
    comeback: None with fewer than 5 fixed cases. evidence: newest first. check: the newest recorded one.
    """

    root_cause: str
    share: Share
    success: Share
    fix_time: MedianInterval | None
    comeback: ComebackRate | None
    parts: tuple[PartFigures, ...]
    board: str
    check: Check
    evidence: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Return the cause as it stands in JSON."""
        return {
            **super().as_json(),
            "cases": self.share.count,
            "fixed": self.success.count,
            "check": self.check.check,
            "check_time_min": self.check.minutes,
            "check_time_assumed": self.check.assumed,
            "check_inside": self.check.inside,
        }


@dataclass(frozen=True, kw_only=True)
class BoardFigures(JsonRecord):
    """One board: how many cases, and what other makers call it."""

    board: str
    cases: int
    other_names: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class FamilySummary(FiguresRecord):
    """One line of the list of families."""

    chassis_family: str
    device: str
    make: str
    models: tuple[str, ...]
    success: Share
    fix_time: MedianInterval | None

    @property
    def cases(self) -> int:
        """The number of cases counted."""
        return self.success.total

    @property
    def fixed(self) -> int:
        """The number of them that were fixed."""
        return self.success.count

    def as_json(self) -> dict[str, Any]:
        """Return the line as it stands in JSON."""
        return {**super().as_json(), "cases": self.cases, "fixed": self.fixed}


@dataclass(frozen=True, kw_only=True)
class FamilyFigures(FamilySummary):
    """All that is said about one family.

    note: blank where none was written. slice: which cases count, as asked for; all_cases and case_models are
    of the whole family, all other figures of the slice. outcomes: cases by outcome. years: year and cases,
    none left out between. order: of the causes' checks. bench_time: None where no fix time is known at all.
    opening_assumed: no family note says how long opening takes.
    """

    note: FamilyNote
    slice: Mapping[str, str | None]
    all_cases: int
    case_models: tuple[str, ...]
    outcomes: Mapping[str, int]
    opening_assumed: bool
    causes: tuple[CauseFigures, ...]
    blinks: tuple[BlinkFigures, ...]
    comeback: ComebackRate
    years: tuple[tuple[int, int], ...]
    parts: tuple[PartFigures, ...]
    boards: tuple[BoardFigures, ...]
    order: CheckPlan
    bench_time: BenchTime | None

    @property
    def past(self) -> Share:
        """How many were given up as not economic."""
        return Share(count=self.outcomes[Outcome.NOT_ECONOMIC], total=self.cases)

    def as_json(self) -> dict[str, Any]:
        """Return the figures as `GET /api/families/NAME` and `benchlore family NAME --json` give them."""
        low, high = self.past.interval
        return {
            **{name: said for name, said in super().as_json().items() if name not in INNER_FIELDS},
            **{name: in_json(getattr(self.note, name)) for name in NOTE_FIELDS},
            "opening_min": self.order.opening_min,
            "comebacks": self.comeback.comebacks,
            "repairs_followed_90_days": self.comeback.still_followed,
            "years": [{"year": year, "cases": cases} for year, cases in self.years],
            "checks": in_json(self.order.checks),
            "expected_minutes": self.order.expected_minutes if self.order.checks else None,
            "bench_time_min": in_json(self.bench_time),
            "not_economic": {
                "not_economic": self.past.count, "cases": self.cases, "low": low, "high": high
            },
        }  # fmt: skip
