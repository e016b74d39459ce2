"""The reading of a complaint: what was understood of an owner's words."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Self

from kb.notes.blinks import BlinkPattern
from search.reading.plain_form import CONCEPT_MARK
from search.reading.text import Span, Token, inside
from search.records import in_json

# Concepts that say something is wrong, but not what.
_SAY_LITTLE = frozenset((f"{CONCEPT_MARK}not working", f"{CONCEPT_MARK}intermittent"))
_IN_JSON = (
    "text", "words", "concepts", "blinks", "family", "make", "model", "device", "instead_of",
    "not_understood", "taken_for", "denied", "past", "taken_to_be", "danger_heard",
)  # fmt: skip


@dataclass(frozen=True)
class WeightedTerm:
    """Hold one term to search.

    term: a stem or "=concept". weight: within (0, 1] for a word, more for a concept. said: the words typed.
    """

    term: str
    weight: float
    said: str


@dataclass(frozen=True, kw_only=True)
class Reading:
    """Hold what was understood of a complaint.

    words: those that say something, lower case, each once. concepts: those that the owner affirms.
    family, make, model, device: "" if neither said nor known from the family. device_said: the words for the
    device. device_by: "name", "use" if these only say what it is for, or "other" for another thing's name.
    other_set: another device at fault; what is told of it counts as past. codes: fault codes that it shows.
    instead_of: unknown words, each with the word searched for instead. not_understood: unknown words that are
    near to no known one. taken_to_be: the only family of the make and device, if blinks but no family were
    said.

    dangers: concepts with hazards that are past or of another set: warned of, but no evidence. danger_heard:
    the concept of a danger that only the whole complaint tells, "" for none; warned of first. denied, past:
    spans of the text that are denied, or of the past or another set. terms, denied_terms: what is searched,
    and what is denied, each term once. tokens: the words that are evidence, corrected. evidence_text: the
    text, cut to LONGEST_COMPLAINT, with spaces for what is denied or past, so that offsets stay.
    device_spans: where a device is named.
    """

    text: str
    words: tuple[str, ...] = ()
    concepts: tuple[str, ...] = ()
    blinks: BlinkPattern | None = None
    family: str = ""
    taken_to_be: str = ""
    make: str = ""
    model: str = ""
    device: str = ""
    device_said: str = ""
    device_by: str = "name"
    other_set: str = ""
    instead_of: Mapping[str, str] = field(default_factory=dict)
    not_understood: tuple[str, ...] = ()
    codes: tuple[str, ...] = ()
    dangers: tuple[str, ...] = ()
    danger_heard: str = ""
    denied: tuple[Span, ...] = ()
    past: tuple[Span, ...] = ()
    terms: tuple[WeightedTerm, ...] = ()
    denied_terms: tuple[WeightedTerm, ...] = ()
    tokens: tuple[Token, ...] = ()
    evidence_text: str = ""
    device_spans: tuple[Span, ...] = ()
    device_terms: frozenset[str] = frozenset()

    def as_json(self) -> dict[str, Any]:
        """Return the reading as in the JSON answer."""
        return {name: in_json(getattr(self, name)) for name in _IN_JSON} | {"blinks": str(self.blinks or "")}

    @property
    def taken_for(self) -> dict[str, str]:
        """Words for another thing or a use, with the device that they were taken for."""
        return {} if self.device_by == "name" else {self.device_said: self.device}

    @cached_property
    def tells_fault(self) -> bool:
        """Whether anything was understood beside the device: blinks, or a concept that says what is wrong."""
        told = {each.term for each in (*self.terms, *self.denied_terms)} - self.device_terms - _SAY_LITTLE
        return self.blinks is not None or any(term.startswith(CONCEPT_MARK) for term in told)

    @property
    def tells_set(self) -> bool:
        """Whether its family or device was told."""
        return bool(self.family or self.device)

    @cached_property
    def without_device(self) -> Self:
        """The same reading without the terms for the device, which say nothing more once it is known.

        The text stays whole: without its subject a sentence means less.
        """
        if not self.device_spans:
            return self
        return replace(
            self,
            concepts=tuple(name for name in self.concepts if CONCEPT_MARK + name not in self.device_terms),
            terms=tuple(term for term in self.terms if term.term not in self.device_terms),
            tokens=tuple(token for token in self.tokens if not inside(token, self.device_spans)),
            device_spans=(),
            device_terms=frozenset(),
        )


def blanked(text: str, spans: Iterable[Span]) -> str:
    """Return a text with spaces in place of some spans."""
    for start, end in spans:
        text = f"{text[:start]}{' ' * (end - start)}{text[end:]}"
    return text
