"""The trade's vocabulary: which words mean one thing at the bench, and what each caution says."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from kb.errors import BenchloreError, NoteError, Problem, quoted
from kb.toml_files import read_toml

BUILT_IN = Path(__file__).parent / "terms.toml"
_KEYS = ("concept", "kind", "phrases", "says", "tell_owner", "instead_of", "cautions", "devices")
_LISTS = ("phrases", "tell_owner", "instead_of", "cautions", "devices")
_EXAMPLE = '[[group]] with concept = "no power", kind = "symptom", phrases = ["dead", "won\'t turn on"]'


class TermsError(BenchloreError):
    """Say that a terms.toml cannot be read, where, and what to write instead."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        super().__init__(str(problem))


@dataclass(frozen=True, kw_only=True)
class Term:
    """Hold one group of phrases that mean the same.

    kind: symptom, board, part, mechanism, caution, device, action and whatever else a shop needs.
    says: a plain sentence, for cautions; "" elsewhere. tell_owner: sentences for the owner, for cautions.
    instead_of: cautions whose sentences for the owner are not said beside this one's. cautions: those of a
    device or symptom; None when nothing is said of its hazards, () when it has none. devices: others that
    people call by a device's name; the only devices that have a symptom or part.
    """

    concept: str
    kind: str
    phrases: tuple[str, ...]
    says: str = ""
    tell_owner: tuple[str, ...] = ()
    instead_of: tuple[str, ...] = ()
    cautions: tuple[str, ...] | None = None
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
    Raises: TermsError naming file, line and remedy.
    """
    terms = _read(BUILT_IN)
    if extra is not None:
        terms = [*terms, *_read(extra)]
    return Vocabulary(_merge(terms))


def _merge(terms: Iterable[Term]) -> tuple[Term, ...]:
    alike: dict[tuple[str, str], list[Term]] = {}
    for term in terms:
        alike.setdefault((term.kind, _fold(term.concept)), []).append(term)
    return tuple(
        Term(
            concept=group[0].concept,
            kind=group[0].kind,
            phrases=tuple(dict.fromkeys(phrase for term in group for phrase in term.phrases)),
            says=next((term.says for term in reversed(group) if term.says), ""),
            tell_owner=next((term.tell_owner for term in reversed(group) if term.tell_owner), ()),
            instead_of=tuple(dict.fromkeys(kind for term in group for kind in term.instead_of)),
            cautions=next((term.cautions for term in reversed(group) if term.cautions is not None), None),
            devices=tuple(dict.fromkeys(device for term in group for device in term.devices)),
        )
        for group in alike.values()
    )


def _read(path: Path) -> list[Term]:
    try:
        text, data = read_toml(path, example=_EXAMPLE, trusted=path == BUILT_IN)
    except FileNotFoundError:
        return []
    except NoteError as error:
        raise TermsError(error.problems[0]) from error
    groups = data.pop("group", [])
    if data:
        first = next(iter(data))
        raise _error(path, _line_of(text, first), first, "not a group of terms", f"write {_EXAMPLE}")
    if not isinstance(groups, list):
        raise _error(path, _line_of(text, "group"), "group", "a single table", f"write {_EXAMPLE}")
    lines = [
        n for n, line in enumerate(text.split("\n"), start=1) if re.match(r"\s*\[\[\s*group\s*\]\]", line)
    ]
    return [
        _term(group, path=path, line=lines[place] if place < len(lines) else _line_of(text, "group"))
        for place, group in enumerate(groups)
    ]


def _term(group: Any, *, path: Path, line: int) -> Term:
    if not isinstance(group, dict):
        raise _error(path, line, "group", quoted(group), f"write {_EXAMPLE}")
    for key, value in group.items():
        if key not in _KEYS:
            raise _error(path, line, quoted(key), "not a key of a group", f"use only {', '.join(_KEYS)}")
        if key not in _LISTS and not isinstance(value, str):
            raise _error(path, line, key, quoted(value), "write one text in quotes")
    for key in _LISTS:
        items = group.get(key, [])
        if not isinstance(items, list) or not all(isinstance(item, str) and item.strip() for item in items):
            remedy = f'write a list of texts, {key} = ["dead", "no life"]'
            raise _error(path, line, key, quoted(items), remedy)
    for key in ("concept", "kind"):
        if not group.get(key, "").strip():
            raise _error(path, line, key, "missing", f"write {_EXAMPLE}")
    return Term(
        concept=_tidy(group["concept"]),
        kind=_tidy(group["kind"]),
        phrases=_tidied(group.get("phrases", [])),
        says=_tidy(group.get("says", "")),
        tell_owner=_tidied(group.get("tell_owner", [])),
        instead_of=_tidied(group.get("instead_of", [])),
        cautions=_tidied(group["cautions"]) if "cautions" in group else None,
        devices=_tidied(group.get("devices", [])),
    )


def _error(path: Path, line: int, field: str, found: str, remedy: str) -> TermsError:
    return TermsError(Problem(file=path.name, line=line, field=field, found=found, remedy=remedy))


def _line_of(text: str, key: str) -> int:
    for number, line in enumerate(text.split("\n"), start=1):
        if line.lstrip(" \t[\"'").startswith(key):
            return number
    return 1


def _tidied(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(_tidy(text) for text in texts)


def _tidy(text: str) -> str:
    return " ".join(text.split())


def _fold(text: str) -> str:
    return _tidy(text).casefold()
