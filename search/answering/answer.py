"""What the technician is told: the parts of one answer, and their JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from kb.notes.case import CaseNote
from search.families.blinks import BlinkFigures
from search.planning.bench_time import BenchTime
from search.planning.checks import Check
from search.reading.complaint import Reading
from search.records import JsonRecord, in_json

# What JSON has of a past case's note, and what stands for it where the note cannot be read.
HIT_FIELDS: dict[str, Any] = {
    "case": "", "date": None, "device": "", "make": "", "model": "", "chassis_family": "", "complaint": "",
    "symptom": (), "root_cause": "", "board": "", "fix": "", "fix_time_min": None, "outcome": "",
    "comeback_of": "",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class CaseHit(JsonRecord):
    """One past repair that resembles the complaint.

    Attributes:
        score: natural logarithm of the case's weight in the answer, shifted so that a case of average weight
            scores 0; only the order and the differences mean something.
        matched: what the note and the complaint have in common: words as spelled in the note, and ideas.
        note: None where it needs attention before it can be read.
    """

    file: str
    score: float
    matched: tuple[str, ...]
    note: CaseNote | None = None

    def as_json(self) -> dict[str, Any]:
        """Return the hit as it stands in JSON."""
        said = {name: in_json(getattr(self.note, name, blank)) for name, blank in HIT_FIELDS.items()}
        return {
            **said,
            "file": self.file,
            "score": self.score,
            "matched": list(self.matched),
            "readable": self.note is not None,
            "blinks": str((self.note and self.note.blinks) or ""),
        }


@dataclass(frozen=True, kw_only=True)
class CauseAnswer(JsonRecord):
    """One likely root cause and what stands behind it.

    Attributes:
        probability: within [0, 1]; those of all causes, `Answer.other_causes` and `Answer.not_in_notebook`
            sum to 1.
        cases: number of past cases with this cause; fixed: of those, the ones that were fixed.
        evidence: ids of those cases, the weightiest for this complaint first.
        by_family: families in which it was met with the number of cases of each, most first; ties by name.
        fix_time_min: median of the repairs that were fixed, else of all of them; minutes.
        check_time_assumed: whether the check's minutes are assumed rather than recorded.
        spellings: other names that notes give this cause.
        why, against: one short line each on what speaks for it and against it, "" for nothing.
    """

    root_cause: str
    probability: float
    cases: int
    fixed: int
    fix_time_min: float | None
    check: str
    check_time_min: float
    check_time_assumed: bool
    board: str
    proof: tuple[str, ...]
    parts: tuple[str, ...]
    evidence: tuple[str, ...]
    by_family: tuple[tuple[str, int], ...]
    spellings: tuple[str, ...] = ()
    why: str = ""
    against: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return the cause as it stands in JSON."""
        return {**super().as_json(), "by_family": dict(self.by_family)}


@dataclass(frozen=True, kw_only=True)
class Question(JsonRecord):
    """One thing to ask the owner; yes or no to it splits the likely causes.

    Attributes:
        concept: the idea that the question is about, as kb/terms.toml names it.
        question: the same in words for the owner.
        bits: expected information gain over the causes.
    """

    concept: str
    question: str
    bits: float


@dataclass(frozen=True, kw_only=True)
class FamilyShare(JsonRecord):
    """How likely it is this chassis family, of those that the notebook knows; share within [0, 1]."""

    chassis_family: str
    share: float


@dataclass(frozen=True, kw_only=True)
class Caution:
    """A hazard and the plain sentence that goes with it.

    Attributes:
        likely: False where it belongs to a cause that is only possible; a page may shorten it, not drop it.
    """

    kind: str
    says: str
    likely: bool = True


@dataclass(frozen=True)
class Advice:
    """One line of a family's note; `if_family` is the family it holds for, "" when that family was said."""

    line: str
    if_family: str = ""

    def __str__(self) -> str:
        """Return the line with its condition before it."""
        return f"If it is {self.if_family}: {self.line}" if self.if_family else self.line


@dataclass(frozen=True, kw_only=True)
class Answer(JsonRecord):
    """Everything said about one complaint, most urgent first on every face of the program.

    Attributes:
        families: which family it may be, largest share first; one entry when the family was said.
        other_causes: probability of all causes of the notebook that are not listed in `causes`.
        opening_min: minutes to open the set and close it again; 0 when it is open already.
        opening_assumed: whether no family note gives these minutes.
        already_open: whether a check inside was done before, so that opening is not charged again.
        expected_minutes, naive_minutes: bench minutes to find the fault in the order of `checks`, and in the
            order of the causes' probabilities alone; None when there is nothing to check.
        took_ms: time spent on the answer, milliseconds.
        unmet_device: the device of the complaint where the notebook has no case of one, else "".
        questions: what to ask the owner, the most telling first.
        quote_condition: why there is no quote, or on what it depends; "" for neither.
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
    checks: tuple[Check, ...] = ()
    opening_min: float = 0.0
    opening_assumed: bool = True
    already_open: bool = False
    expected_minutes: float | None = None
    naive_minutes: float | None = None
    bench_time: BenchTime | None = None
    quote_condition: str = ""
    blink_records: tuple[BlinkFigures, ...] = ()
    unmet_device: str = ""
    questions: tuple[Question, ...] = ()
    took_ms: float = 0.0

    @property
    def unmet_said(self) -> str:
        """The device without a case in the owner's words, with its article: "a chest freezer"."""
        said = self.reading.device_said or self.unmet_device
        plural = said.endswith("s") and not self.unmet_device.endswith("s")
        if plural or said == self.unmet_device.casefold():
            said = self.unmet_device
        letters = "AEFHILMNORSX" if said[:2].isupper() else "AEIOUaeiou"
        return f"{'an' if said[:1] in letters else 'a'} {said}"

    def as_json(self) -> dict[str, Any]:
        """Return the answer as `GET /api/search` and `benchlore search --json` give it."""
        said = super().as_json()
        del said["bench_time"]
        return {
            **said,
            "reading": self.reading.as_json(),
            "bench_time_min": in_json(self.bench_time),
            "before_power": [str(each) for each in self.before_power],
            "tell_owner": [str(each) for each in self.tell_owner],
            "while_open": [str(each) for each in self.while_open],
            "caution": [caution.kind for caution in self.caution],
            "caution_says": {caution.kind: caution.says for caution in self.caution},
        }
