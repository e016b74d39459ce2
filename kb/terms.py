"""The trade's vocabulary: words that mean the same, what cautions say, and how owners describe faults."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from kb.files import SomeTexts, Text, Texts, Tidy, read_records

BUILT_IN, SIGNS = (Path(__file__).parent / name for name in ("terms.toml", "signs.toml"))
_EXAMPLE = '[[group]] with concept = "no power", kind = "symptom", phrases = ["dead", "won\'t turn on"]'
_A_FAULT = '[[fault]] with devices = ["LED TV"], names = ["panel cracked"], signs = ["black ink blot"]'


@dataclass(frozen=True, kw_only=True)
class Term:
    """Hold one group of phrases that mean the same."""

    concept: Text
    kind: Text  # symptom, works, board, part, mechanism, caution, device, action and what else a shop needs
    phrases: Texts = ()
    says: Tidy = ""  # of a caution: its sentence
    tell_owner: Texts = ()  # of a caution: sentences for the owner
    instead_of: Texts = ()  # of a caution: others whose sentences for the owner it replaces
    cautions: Texts | None = None  # of a device or symptom; None: not known; (): it has none
    does: Texts = ()  # of a device: what it does; "[heats] cold" is a phrase for all that heat
    uses: Texts = ()  # of a device: what people do with it, "dry hair"
    # Of a device: others that people call by its name. Of a symptom or part: the only devices that have it.
    devices: Texts = ()
    no_danger_in: Texts = ()  # of a symptom: devices in which it is harmless


@dataclass(frozen=True)
class Vocabulary:
    """Hold all groups of the vocabulary, one for each concept and kind."""

    terms: tuple[Term, ...]

    def of_kind(self, kind: str) -> tuple[Term, ...]:
        """Return the groups of one kind, in the order they were read."""
        return tuple(term for term in self.terms if term.kind == kind)

    def term(self, kind: str, name: str) -> Term | None:
        """Return a group of a kind, by its concept or any of its phrases; None if unknown."""
        return self._by_phrase.get((kind, fold(name)))

    def caution_sentence(self, name: str) -> str:
        """Return the plain sentence of a caution; "" if unknown."""
        return term.says if (term := self.term("caution", name)) else ""

    def caution_names(self, said: Iterable[str]) -> tuple[str, ...]:
        """Return the concepts of cautions, each once; a name of no group stays as it is."""
        groups = ((name, self.term("caution", name)) for name in said)
        return tuple(dict.fromkeys(term.concept if term else name for name, term in groups))

    def cautions_of(self, name: str, kind: str = "device", *, shown_by: str = "") -> tuple[str, ...] | None:
        """Return the cautions of a device or symptom, gravest first; None when they are not known.

        shown_by: the device that shows a symptom, "" if none is known.
        """
        term = self.term(kind, name)
        if term is None or term.cautions is None:
            return None
        device = self.term("device", shown_by)
        harmless = device is not None and device.concept in term.no_danger_in
        return () if harmless else self.caution_names(term.cautions)

    def other_names(self, board: str) -> tuple[str, ...]:
        """Return the other names of a board; () if it is unknown."""
        names = (term.concept, *term.phrases) if (term := self.term("board", board)) else ()
        return tuple(name for name in dict.fromkeys(names) if fold(name) != fold(board))

    @cached_property
    def for_owner(self) -> frozenset[str]:
        """The cautions that an owner must hear of."""
        return frozenset(term.concept for term in self.of_kind("caution") if term.tell_owner)

    @cached_property
    def _by_phrase(self) -> Mapping[tuple[str, str], Term]:
        found: dict[tuple[str, str], Term] = {}
        for term in self.terms:
            for phrase in (term.concept, *term.phrases):
                found.setdefault((term.kind, fold(phrase)), term)
        return found


def load_vocabulary(extra: Path | None = None) -> Vocabulary:
    """Return the built-in vocabulary, with a shop's own terms.toml added if given. Raises: NoteError."""
    merged: dict[tuple[str, str], Term] = {}
    own = read_records(extra, "group", Term, example=_EXAMPLE, trusted=False) if extra else ()
    for term in (*_built_in(), *own):
        key = (term.kind, fold(term.concept))
        merged[key] = _joined(merged[key], term) if key in merged else term
    return Vocabulary(tuple(merged.values()))


@cache
def _built_in() -> tuple[Term, ...]:
    return read_records(BUILT_IN, "group", Term, example=_EXAMPLE, trusted=True)


def _joined(term: Term, own: Term) -> Term:
    """Return a group joined with a later one of the same concept and kind."""
    known = vars(term)
    lists = ("phrases", "instead_of", "does", "uses", "devices", "no_danger_in")
    joined: dict[str, Any] = {name: tuple(dict.fromkeys(known[name] + vars(own)[name])) for name in lists}
    says, told = own.says or term.says, own.tell_owner or term.tell_owner
    cautions = term.cautions if own.cautions is None else own.cautions
    return replace(term, **joined, says=says, tell_owner=told, cautions=cautions)


def fold(text: str) -> str:
    """Return a text as it is compared: without capitals, and with single blanks."""
    return " ".join(text.split()).casefold()


@dataclass(frozen=True, kw_only=True)
class Fault:
    """Hold one fault: devices that have it (none for any), its names, and its signs in an owner's words."""

    devices: Texts
    names: SomeTexts
    signs: SomeTexts


@cache
def load_faults(path: Path = SIGNS) -> tuple[Fault, ...]:
    """Return the faults of a file. Raises: NoteError naming file, line and remedy."""
    return read_records(path, "fault", Fault, example=_A_FAULT, trusted=True)
