"""What the technician is told: the parts of one answer, and their JSON."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Self

from kb.notes.case import CaseNote
from search.families.case_group import BlinkFigures
from search.planning.bench_time import BenchTime
from search.planning.checks import Check, CheckPlan
from search.reading.complaint import Reading
from search.records import JsonRecord, in_json
from search.stats.arrays import IntArray

Codes = tuple[int, ...]  # of one cause in the table, one for each of its spellings
# The fields of a past case in JSON, with the value for a note that cannot be read.
HIT_FIELDS: dict[str, Any] = {
    "case": "", "date": None, "device": "", "make": "", "model": "", "chassis_family": "", "complaint": "",
    "symptom": (), "root_cause": "", "board": "", "fix": "", "fix_time_min": None, "outcome": "",
    "comeback_of": "",
}  # fmt: skip
ADVICE_FIELDS = ("before_power", "tell_owner", "while_open")  # of an answer and of a family's note alike
CAUSE_FIELDS = (
    "root_cause", "probability", "cases", "fixed", "fix_time_min", "check", "check_time_min",
    "check_time_assumed", "board", "proof", "parts", "evidence", "by_family", "spellings", "why", "against",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)
class CaseHit(JsonRecord):
    """One past repair. note: None if unreadable. score: logarithm of its weight over an average one's."""

    file: str
    score: float
    compare: Callable[[], tuple[str, ...]]
    note: CaseNote | None = None

    @cached_property
    def matched(self) -> tuple[str, ...]:
        """What it and the complaint have in common; worked out only when asked for."""
        return self.compare()

    def as_json(self) -> dict[str, Any]:
        said = {name: in_json(getattr(self.note, name, blank)) for name, blank in HIT_FIELDS.items()}
        said |= {"file": self.file, "score": self.score, "matched": list(self.matched)}
        blinks = str((self.note and self.note.blinks) or "")
        return {**said, "readable": self.note is not None, "blinks": blinks}


@dataclass(frozen=True, kw_only=True, eq=False)
class CauseProfile:
    """What the cases of a cause say of it, whatever the complaint.

    rows: its cases. board, parts, proof, caution: from the newest notes. fix_time_min: median of the fixed
    cases, else of all. by_family: number of cases, most first, then by name.
    """

    rows: IntArray
    fixed: int
    check: Check
    board: str
    parts: tuple[str, ...]
    proof: tuple[str, ...]
    caution: tuple[str, ...]
    fix_time_min: float | None
    by_family: tuple[tuple[str, int], ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class CauseAnswer(JsonRecord):
    """One likely root cause with all its spellings.

    Most causes are shown by name alone, so the rest is worked out when it is asked for. codes: that of
    `root_cause`, then those of `spellings`. rows: its cases. evidence: their numbers, the weightiest for this
    complaint first. other_device: it was never met in the device that was said. describe: returns the
    profile. explain: returns `why` and `against`.
    """

    codes: Codes
    root_cause: str
    spellings: tuple[str, ...] = ()
    rows: IntArray
    probability: float
    evidence: tuple[str, ...]
    other_device: bool = False
    describe: Callable[[], CauseProfile]
    explain: Callable[[Self], tuple[str, str]]

    @cached_property
    def profile(self) -> CauseProfile:
        """What its cases say of it."""
        return self.describe()

    @cached_property
    def check(self) -> Check:
        """The check that decides whether it is this cause."""
        return replace(self.profile.check, probability=self.probability)

    @cached_property
    def _reasons(self) -> tuple[str, str]:
        return self.explain(self)

    @property
    def why(self) -> str:
        """Why it is likely, in one short line, "" for nothing."""
        return self._reasons[0]

    @property
    def against(self) -> str:
        """What speaks against it, in one short line, "" for nothing."""
        return self._reasons[1]

    @property
    def cases(self) -> int:
        """The number of its cases."""
        return len(self.rows)

    def as_json(self) -> dict[str, Any]:
        said = vars(self.profile) | vars(self) | {
            "cases": self.cases, "check": self.check.check, "check_time_min": self.check.minutes,
            "check_time_assumed": self.check.assumed, "by_family": dict(self.profile.by_family),
            "why": self.why, "against": self.against,
        }  # fmt: skip
        return {name: in_json(said[name]) for name in CAUSE_FIELDS}


@dataclass(frozen=True, kw_only=True)
class KnownFault(JsonRecord):
    """A fault that such sets are generally known for, and that no case here had.

    devices: what the set may be then, if nothing names it. probability: within [0, 1].
    """

    fault: str
    devices: tuple[str, ...] = ()
    probability: float


@dataclass(frozen=True, kw_only=True)
class Question(JsonRecord):
    """A question to the owner about one concept of kb/terms.toml, and the bits of information it gains."""

    concept: str
    question: str
    bits: float


@dataclass(frozen=True, kw_only=True)
class FamilyShare(JsonRecord):
    """How likely it is this chassis family, among those that the notebook knows; share within [0, 1]."""

    chassis_family: str
    share: float


@dataclass(frozen=True, kw_only=True)
class Caution:
    """A hazard and its sentence. If it is only possible, a page may shorten it, never drop it."""

    kind: str
    says: str
    likely: bool = True


@dataclass(frozen=True)
class Advice:
    """One line of a family's note. if_family: the family it holds for, "" when that family was said."""

    line: str
    if_family: str = ""

    def __str__(self) -> str:
        """Return the line with its condition before it."""
        return f"If it is {self.if_family}: {self.line}" if self.if_family else self.line


@dataclass(frozen=True, kw_only=True)
class Answer(JsonRecord):
    """Everything said about one complaint. Pages and terminal show the most urgent first.

    families: those it may be, largest share first; a single one if the family was said. other_causes:
    probability of all causes not in `causes`. opening_assumed: no family note says how long opening takes.
    already_open: an inside check was done before, so opening costs nothing more. unmet_device: the device, if
    no case is of one. known_in_general: what a cause not in the notebook may be, the likeliest first.
    questions: the most telling first. quote_condition: why there is no price, or on what it depends.
    """

    reading: Reading
    caution: tuple[Caution, ...]
    other_causes: float
    not_in_notebook: float
    notices: tuple[str, ...]
    cases: tuple[CaseHit, ...]
    before_power: tuple[Advice, ...] = ()
    tell_owner: tuple[Advice, ...] = ()
    while_open: tuple[Advice, ...] = ()
    families: tuple[FamilyShare, ...] = ()
    causes: tuple[CauseAnswer, ...] = ()
    ruled_out: tuple[str, ...] = ()
    plan: CheckPlan = field(default_factory=CheckPlan)
    opening_assumed: bool = True
    already_open: bool = False
    bench_time: BenchTime | None = None
    quote_condition: str = ""
    blink_records: tuple[BlinkFigures, ...] = ()
    unmet_device: str = ""
    known_in_general: tuple[KnownFault, ...] = ()
    questions: tuple[Question, ...] = ()
    took_ms: float = 0.0

    @property
    def unmet_said(self) -> str:
        """The device without a case in the owner's words, with an article: "a chest freezer"."""
        by_use = self.reading.device_by == "use"  # "the thing that dries my hair"
        said = self.unmet_device if by_use else self.reading.device_said or self.unmet_device
        plural = said.endswith("s") and not self.unmet_device.endswith("s")
        if plural or said == self.unmet_device.casefold():
            said = self.unmet_device
        letters = "AEFHILMNORSX" if said[:2].isupper() else "AEIOUaeiou"
        return f"{'an' if said[:1] in letters else 'a'} {said}"

    def as_json(self) -> dict[str, Any]:
        """Return the answer as `GET /api/search` and `benchlore search --json` give it."""
        said = super().as_json()
        said |= {"bench_time_min": said.pop("bench_time"), **said.pop("plan")}
        kinds = {caution.kind: caution.says for caution in self.caution}
        said |= {"reading": self.reading.as_json(), "caution": [*kinds], "caution_says": kinds}
        return said | {name: [str(each) for each in getattr(self, name)] for name in ADVICE_FIELDS}
