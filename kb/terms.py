"""The trade's vocabulary: which words mean one thing at the bench, and what each caution says."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import zip_longest
from pathlib import Path
from typing import Any

from kb.errors import NoteError, quoted
from kb.toml_files import read_toml

BUILT_IN = Path(__file__).parent / "terms.toml"
_KEYS = ("concept", "kind", "phrases", "says", "tell_owner", "instead_of", "cautions", "devices")
_LISTS = ("phrases", "tell_owner", "instead_of", "cautions", "devices")
_EXAMPLE = '[[group]] with concept = "no power", kind = "symptom", phrases = ["dead", "won\'t turn on"]'


@dataclass(frozen=True, kw_only=True)
class Term:
    """Hold one group of phrases that mean the same."""

    concept: str
    kind: str  # symptom, works, board, part, mechanism, caution, device, action and what else a shop needs
    phrases: tuple[str, ...] = ()
    says: str = ""  # of a caution, its plain sentence
    tell_owner: tuple[str, ...] = ()  # of a caution, sentences for the owner
    instead_of: tuple[str, ...] = ()  # cautions whose sentences for the owner are not said beside these
    cautions: tuple[str, ...] | None = None  # of a device or symptom; None: nothing is known; (): it has none
    # Others that people call by a device's name; the only devices that have a symptom or part.
    devices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Vocabulary:
    """Hold every group of the vocabulary, one per concept and kind."""

    terms: tuple[Term, ...]

    def of_kind(self, kind: str) -> tuple[Term, ...]:
        """Return the groups of one kind, in the order they were read."""
        return tuple(term for term in self.terms if term.kind == kind)

    def caution(self, name: str) -> Term | None:
        """Return a caution, by its concept or any of its phrases; None if unknown."""
        return self._by_phrase.get(("caution", _fold(name)))

    def caution_sentence(self, name: str) -> str:
        """Return the plain sentence of a caution; "" if unknown."""
        term = self.caution(name)
        return term.says if term else ""

    def cautions_of(self, name: str, kind: str = "device") -> tuple[str, ...] | None:
        """Return the hazards of a device or symptom, by its concept or any of its phrases.

        Returns: names of cautions, the gravest first; () where there are none; None where nothing is known.
        """
        term = self._by_phrase.get((kind, _fold(name)))
        return None if term is None else term.cautions

    def other_names(self, board: str) -> tuple[str, ...]:
        """Return what other makers call the same board, without the name given; () if unknown."""
        term = self._by_phrase.get(("board", _fold(board)))
        if term is None:
            return ()
        return tuple(
            name for name in dict.fromkeys((term.concept, *term.phrases)) if _fold(name) != _fold(board)
        )

    @cached_property
    def _by_phrase(self) -> Mapping[tuple[str, str], Term]:
        found: dict[tuple[str, str], Term] = {}
        for term in self.terms:
            for phrase in (term.concept, *term.phrases):
                found.setdefault((term.kind, _fold(phrase)), term)
        return found


def load_vocabulary(extra: Path | None = None) -> Vocabulary:
    """Return the built-in vocabulary, with a shop's own terms.toml added when there is one.

    A shop's group with a known concept and kind adds its phrases there, and its sentence is the one kept.
    Raises: NoteError naming file, line and remedy.
    """
    merged: dict[tuple[str, str], Term] = {}
    for term in (*_read(BUILT_IN), *(_read(extra) if extra else ())):
        key = (term.kind, _fold(term.concept))
        merged[key] = _joined(merged[key], term) if key in merged else term
    return Vocabulary(tuple(merged.values()))


def _joined(term: Term, own: Term) -> Term:
    """Return a group with what a later one of the same concept and kind says."""
    return replace(
        term,
        phrases=_each_once(term.phrases + own.phrases),
        says=own.says or term.says,
        tell_owner=own.tell_owner or term.tell_owner,
        instead_of=_each_once(term.instead_of + own.instead_of),
        cautions=term.cautions if own.cautions is None else own.cautions,
        devices=_each_once(term.devices + own.devices),
    )


def _read(path: Path) -> list[Term]:
    file = read_toml(path, example=_EXAMPLE, trusted=path == BUILT_IN)
    if other := next((key for key in file.values if key != "group"), None):
        raise NoteError([file.problem(other, "not a group of terms", f"write {_EXAMPLE}")])
    groups = file.values.get("group", [])
    if not isinstance(groups, list):
        raise NoteError([file.problem("group", "a single table", f"write {_EXAMPLE}")])
    headings = re.finditer(r"(?m)^[ \t]*\[\[[ \t]*group[ \t]*\]\]", file.text)
    lines = [file.text.count("\n", 0, heading.start()) + 1 for heading in headings]
    terms = []
    for group, line in zip_longest(groups, lines[: len(groups)]):
        if fault := _fault(group):
            raise NoteError([file.problem(*fault, line=line or file.line_of("group"))])
        terms.append(Term(**{key: _tidy_all(value) for key, value in group.items()}))
    return terms


def _fault(group: Any) -> tuple[str, str, str] | None:
    """Return the first fault of a group: its key, what stands there, what to write instead."""
    if not isinstance(group, dict):
        return "group", quoted(group), f"write {_EXAMPLE}"
    for key, value in group.items():
        if key not in _KEYS:
            return quoted(key), "not a key of a group", f"use only {', '.join(_KEYS)}"
        if key not in _LISTS and not isinstance(value, str):
            return key, quoted(value), "write one text in quotes"
        if key in _LISTS and not (
            isinstance(value, list) and all(isinstance(item, str) and item.strip() for item in value)
        ):
            return key, quoted(value), f'write a list of texts, {key} = ["dead", "no life"]'
    missing = next((key for key in ("concept", "kind") if not group.get(key, "").strip()), None)
    return (missing, "missing", f"write {_EXAMPLE}") if missing else None


def _tidy_all(value: str | list[str]) -> Any:
    return _tidy(value) if isinstance(value, str) else _each_once(map(_tidy, value))


def _each_once(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(texts))


def _tidy(text: str) -> str:
    return " ".join(text.split())


def _fold(text: str) -> str:
    return _tidy(text).casefold()
