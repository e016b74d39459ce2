"""What is said about one chassis family: the figures and their JSON."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from kb.notes.family import FamilyNote
from search.families.spares import PartFigures
from search.planning.bench_time import BenchTime
from search.planning.checks import CheckPlan
from search.planning.quote import PastTries
from search.stats.intervals import MedianInterval, wilson_interval
from search.stats.survival import ComebackRate

# Chosen by us: with fewer cases a percentage says more than is known.
# test_share_of_few_cases_is_not_shown_as_a_percentage would notice.
ENOUGH_FOR_PERCENT = 5


@dataclass(frozen=True, kw_only=True)
class Share:
    """A count of all cases, 0 <= count <= total."""

    count: int
    total: int

    @property
    def value(self) -> float:
        """The share within [0, 1]; 0 of no cases."""
        return self.count / self.total if self.total else 0.0

    @property
    def interval(self) -> tuple[float, float]:
        """The Wilson 95 % interval; (0, 1) of no cases."""
        return wilson_interval(self.count, self.total)

    @property
    def shown(self) -> bool:
        """Whether there are enough cases to show a percentage."""
        return self.total >= ENOUGH_FOR_PERCENT

    def as_json(self, name: str) -> dict[str, Any]:
        """Return share, bounds and whether to show it, under keys that start with name."""
        low, high = self.interval
        return {name: self.value, f"{name}_low": low, f"{name}_high": high, f"{name}_shown": self.shown}


def fix_time_json(time: MedianInterval | None) -> dict[str, Any]:
    """Return a median fix time and its 95 % interval, minutes; None where there is none."""
    return {f"fix_time_{name}_min": getattr(time, name, None) for name in ("median", "low", "high")}


def comeback_json(rate: ComebackRate | None) -> dict[str, Any]:
    """Return a comeback rate and its 95 % interval, within [0, 1]; None where there is none."""
    keys = {"": "rate", "_low": "low", "_high": "high"}
    return {f"comeback_90_days{end}": getattr(rate, name, None) for end, name in keys.items()}


@dataclass(frozen=True, kw_only=True)
class CauseFigures:
    """One root cause within a family.

    share: of the family's cases. success: fixed, of the cause's cases. fix_time: of the repairs that were
    fixed, else of all. comeback: None with fewer than 5 fixed cases. evidence: case numbers, newest first.
    check, check_min: the newest recorded check, and minutes to reckon with (check_assumed: not recorded).
    """

    root_cause: str
    share: Share
    success: Share
    fix_time: MedianInterval | None
    comeback: ComebackRate | None
    parts: tuple[PartFigures, ...]
    board: str
    check: str
    check_min: float
    check_assumed: bool
    check_inside: bool
    evidence: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Return the cause as it stands in the JSON answer."""
        return {
            "root_cause": self.root_cause,
            "cases": self.share.count,
            **self.share.as_json("share"),
            "fixed": self.success.count,
            **self.success.as_json("success"),
            **fix_time_json(self.fix_time),
            **comeback_json(self.comeback),
            "parts": [asdict(part) for part in self.parts],
            "board": self.board,
            "check": self.check,
            "check_time_min": self.check_min,
            "check_time_assumed": self.check_assumed,
            "check_inside": self.check_inside,
            "evidence": list(self.evidence),
        }


@dataclass(frozen=True, kw_only=True)
class BlinkFigures:
    """One blink pattern: what the service sheet says ("" where nothing), and what it turned out to be.

    causes: root cause and its share of the pattern's cases, most first. fix_time: as for a cause.
    """

    pattern: str
    service_sheet: str
    cases: int
    causes: tuple[tuple[str, Share], ...]
    fix_time: MedianInterval | None

    def as_json(self) -> dict[str, Any]:
        """Return the pattern as it stands in the JSON answer."""
        return {
            "pattern": self.pattern,
            "service_sheet": self.service_sheet,
            "cases": self.cases,
            "causes": [
                {"root_cause": cause, "cases": share.count, **share.as_json("share")}
                for cause, share in self.causes
            ],
            **fix_time_json(self.fix_time),
        }


@dataclass(frozen=True, kw_only=True)
class BoardFigures:
    """One board: how many cases, and what other makers call it."""

    board: str
    cases: int
    other_names: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class FamilySummary:
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
        """Return the line as it stands in the JSON answer."""
        return {
            "chassis_family": self.chassis_family,
            "device": self.device,
            "make": self.make,
            "models": list(self.models),
            "cases": self.cases,
            "fixed": self.fixed,
            **self.success.as_json("success"),
            **fix_time_json(self.fix_time),
        }


@dataclass(frozen=True, kw_only=True)
class FamilyFigures(FamilySummary):
    """All that is said about one family.

    note: the family's note, a blank one where none was written. slice: which cases count, as asked for;
    all_cases and case_models are of the whole family, all other figures of the slice. outcomes: name and
    cases, in the order of the outcomes. years: year and cases, none left out between. comeback: over the
    fixed repairs. order: of the causes' checks. bench_time: None where no fix time is known at all.
    opening_assumed: no family note says how long opening takes. past: how often the set was given up.
    """

    note: FamilyNote
    slice: Mapping[str, str | None]
    all_cases: int
    case_models: tuple[str, ...]
    outcomes: tuple[tuple[str, int], ...]
    opening_assumed: bool
    causes: tuple[CauseFigures, ...]
    blinks: tuple[BlinkFigures, ...]
    comeback: ComebackRate
    years: tuple[tuple[int, int], ...]
    parts: tuple[PartFigures, ...]
    boards: tuple[BoardFigures, ...]
    order: CheckPlan
    bench_time: BenchTime | None
    past: PastTries

    def as_json(self) -> dict[str, Any]:
        """Return the figures as `GET /api/families/NAME` and `benchlore family NAME --json` give them."""
        note = self.note
        return {
            **super().as_json(),
            "caution": list(note.caution),
            "before_power": list(note.before_power),
            "tell_owner": list(note.tell_owner),
            "while_open": list(note.while_open),
            "slice": dict(self.slice),
            "all_cases": self.all_cases,
            "outcomes": dict(self.outcomes),
            "opening_min": self.order.opening_min,
            "opening_assumed": self.opening_assumed,
            "causes": [cause.as_json() for cause in self.causes],
            "blinks": [blink.as_json() for blink in self.blinks],
            **comeback_json(self.comeback),
            "comebacks": self.comeback.comebacks,
            "repairs_followed_90_days": self.comeback.still_followed,
            "years": [{"year": year, "cases": cases} for year, cases in self.years],
            "parts": [asdict(part) for part in self.parts],
            "boards": [asdict(board) for board in self.boards],
            "checks": [asdict(check) for check in self.order.checks],
            "expected_minutes": self.order.expected_minutes if self.order.checks else None,
            "bench_time_min": self.bench_time.as_json() if self.bench_time else None,
            "not_economic": self.past.as_json(),
            "body": note.body,
        }
