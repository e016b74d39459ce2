"""The reading of a complaint: what was understood of an owner's words."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Self

from kb.notes.blinks import BlinkPattern
from search.reading.plain_form import CONCEPT_MARK
from search.reading.text import Span, Token, inside
from search.records import in_json

# Say that something is wrong, but not what.
_SAY_LITTLE = frozenset((f"{CONCEPT_MARK}not working", f"{CONCEPT_MARK}intermittent"))
_IN_JSON = (
    "text", "words", "concepts", "blinks", "family", "make", "model", "device", "instead_of",
    "not_understood", "taken_for", "denied", "past", "taken_to_be",
)  # fmt: skip


@dataclass(frozen=True)
class WeightedTerm:
    """Hold one thing to search.

    term: a stem or "=concept". weight: within (0, 1] for a word, more for an idea.
    said: the words typed for it.
    """

    term: str
    weight: float
    said: str


@dataclass(frozen=True, kw_only=True)
class Reading:
    """Hold what was understood of a complaint.

    words: those that say something, lower case, each once. concepts: ideas that the owner affirms.
    family, make, model, device: "" if neither said nor implied by the family. device_said: the words for it.
    device_by: "name", "use" where these only say what it is for, or "other" for another thing's name.
    other_set: another device at fault; what is told of it counts as past. codes: the fault codes it shows.
    instead_of: words nobody knows, each with what was searched for in its place. not_understood: words nobody
    knows and nothing is near to.

    dangers: ideas with hazards told of the past or of another set: warned of, but no evidence.
    danger_heard: the idea of one that no words tell and the whole sentence does, "" for none: warned of
    first. denied, past: spans of the text that say what is not so, and what was once or is another's.
    terms: what is searched, each term once; denied_terms: the same for what is denied. tokens: the words
    that are evidence, each as it was corrected. evidence_text: the text cut to LONGEST_COMPLAINT, what is
    denied or past blanked out; offsets stay as they were. device_spans: where a device is named.
    taken_to_be: the only family of the make and the device, where a count of blinks but no family was said.
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
        """Return the reading as it stands in the JSON answer."""
        return {name: in_json(getattr(self, name)) for name in _IN_JSON} | {"blinks": str(self.blinks or "")}

    @property
    def taken_for(self) -> dict[str, str]:
        """Words that name no device or another one, with the device they were taken for."""
        return {} if self.device_by == "name" else {self.device_said: self.device}

    @cached_property
    def tells_fault(self) -> bool:
        """Whether a count of blinks or an idea of what is wrong was understood beside the device."""
        told = {each.term for each in (*self.terms, *self.denied_terms)} - self.device_terms - _SAY_LITTLE
        return self.blinks is not None or any(term.startswith(CONCEPT_MARK) for term in told)

    @property
    def tells_set(self) -> bool:
        """Whether its family or device was told, or which devices it can only be."""
        return bool(self.family or self.device)

    @cached_property
    def without_device(self) -> Self:
        """The same reading without the words for the device: once that is known, they tell nothing more.

        Its text stays whole: without its subject a sentence means less.
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
