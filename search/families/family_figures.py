"""What is said about one chassis family: the figures and their JSON."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, is_dataclass
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
# Fields of FamilyFigures that its JSON has in another form, and fields of the note that it has as they are.
INNER_FIELDS = ("note", "order", "past", "bench_time", "case_models")
NOTE_FIELDS = ("caution", "before_power", "tell_owner", "while_open", "body")


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


def flat_json(figures: Any) -> dict[str, Any]:
    """Return the fields of a record as JSON, statistics laid flat under the name of their field.

    A share called "success" gives success, success_low, success_high and success_shown; fix_time gives
    fix_time_median_min and its bounds; comeback gives comeback_90_days and its bounds.
    """
    said: dict[str, Any] = {}
    for field in fields(figures):
        value = getattr(figures, field.name)
        if isinstance(value, Share):
            said |= value.as_json(field.name)
        elif field.name == "fix_time":
            said |= {f"fix_time_{each}_min": getattr(value, each, None) for each in ("median", "low", "high")}
        elif field.name == "comeback":
            keys = {"": "rate", "_low": "low", "_high": "high"}
            said |= {f"comeback_90_days{end}": getattr(value, each, None) for end, each in keys.items()}
        elif isinstance(value, tuple):
            said[field.name] = [flat_json(each) if is_dataclass(each) else each for each in value]
        else:
            said[field.name] = value
    return said


@dataclass(frozen=True, kw_only=True)
class CauseFigures:
    """One root cause within a family.

    share: of the family's cases. success: fixed, of the cause's cases. fix_time: of the repairs that were
    fixed, else of all. comeback: None with fewer than 5 fixed cases. evidence: case numbers, newest first.
    check, check_time_min: the newest recorded check, and its minutes; assumed where none are recorded.
    """

    root_cause: str
    share: Share
    success: Share
    fix_time: MedianInterval | None
    comeback: ComebackRate | None
    parts: tuple[PartFigures, ...]
    board: str
    check: str
    check_time_min: float
    check_time_assumed: bool
    check_inside: bool
    evidence: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Return the cause as it stands in the JSON answer."""
        return {"cases": self.share.count, "fixed": self.success.count, **flat_json(self)}


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
        causes = [
            {"root_cause": cause, "cases": share.count, **share.as_json("share")}
            for cause, share in self.causes
        ]
        return {**flat_json(self), "causes": causes}


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
        return {"cases": self.cases, "fixed": self.fixed, **flat_json(self)}


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
        said = super().as_json()
        return {
            **{name: value for name, value in said.items() if name not in INNER_FIELDS},
            **{name: getattr(self.note, name) for name in NOTE_FIELDS},
            "outcomes": dict(self.outcomes),
            "opening_min": self.order.opening_min,
            "causes": [cause.as_json() for cause in self.causes],
            "blinks": [blink.as_json() for blink in self.blinks],
            "comebacks": self.comeback.comebacks,
            "repairs_followed_90_days": self.comeback.still_followed,
            "years": [{"year": year, "cases": cases} for year, cases in self.years],
            "checks": [asdict(check) for check in self.order.checks],
            "expected_minutes": self.order.expected_minutes if self.order.checks else None,
            "bench_time_min": self.bench_time.as_json() if self.bench_time else None,
            "not_economic": self.past.as_json(),
        }
