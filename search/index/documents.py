"""Turn a note into what the index keeps of it: terms by field, a row of columns, the note itself packed."""

import datetime
import json
import zlib
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from pathlib import PurePosixPath
from sys import intern
from typing import Any

import numpy as np
import numpy.typing as npt

from kb.errors import NoteError
from kb.notebook import LARGEST_NOTE_BYTES
from kb.notes.blinks import BlinkPattern
from kb.notes.case import CaseNote, Outcome
from kb.notes.frontmatter import decode_note
from kb.terms import Vocabulary
from search.index.integrity import digest_of
from search.index.rows import CODED, LENGTHS, NoteRow
from search.index.safe_pickle import inflate
from search.index.schema import FIELDS
from search.reading.concepts import ConceptFinder, index_terms, terms_of
from search.reading.text import tokenise, tokenise_quickly, words_of
from search.reading.vectors import load_meaning

_EPOCH = datetime.date(1970, 1, 1)
_LARGEST_UNPACKED = 8 * LARGEST_NOTE_BYTES  # fields and body of one note, at most four bytes a letter
_FAST = 1  # zlib's quickest level: a note is packed once and read often


def days(date: datetime.date) -> int:
    """Return a date as days since 1970-01-01."""
    return (date - _EPOCH).days


@lru_cache(maxsize=20_000)
def cause_key(root_cause: str, finder: ConceptFinder) -> str:
    """Return what root causes are compared by: their distinct index terms and numbers, in no order.

    Numbers count although a search leaves short ones out: LED strip 1 is not LED strip 2.
    A text without any term ("?!") stands for itself.
    """
    numbers = (token.stem for token in tokenise(root_cause) if token.stem.isdigit())
    terms = {*index_terms(root_cause, finder), *numbers}
    return " ".join(sorted(terms)) or root_cause.casefold()


def read_document(path: str, data: bytes, finder: ConceptFinder) -> NoteRow:
    """Return what the index keeps of a case note's bytes; of one that cannot be read, its words."""
    try:
        note = CaseNote.parse(decode_note(data, file=path), file=path)
    except NoteError:
        return _unreadable(path, data, finder)
    return case_document(note, finder, path=path, digest=digest_of(data))


def case_document(note: CaseNote, finder: ConceptFinder, *, path: str = "", digest: str = "") -> NoteRow:
    """Return what the index keeps of a case note."""
    texts = {
        "complaint": (note.complaint, *note.symptom),
        "cause": (note.root_cause,),
        "fix": (note.fix, *note.parts, note.board, note.check),
        "body": (
            note.body,
            note.proof,
            *(note.device, note.make, note.model, note.chassis_family),
            *_texts_in(note.unknown),
        ),
    }
    coded = {
        "family": note.chassis_family,
        "make": note.make,
        "device": note.device,
        "model": note.model,
        "board": note.board,
        "cause": note.root_cause,
        "outcome": str(note.outcome),
        "blinks": "" if note.blinks is None else str(note.blinks),
    }
    numbers = {
        "date_days": days(note.date),
        "fix_time_min": note.fix_time_min,
        "check_time_min": float("nan") if note.check_time_min is None else note.check_time_min,
        "readable": True,
    }
    return NoteRow(
        texts={"path": path, "digest": digest, "case": note.case, "comeback_of": note.comeback_of},
        coded=coded,
        cause_key=cause_key(note.root_cause, finder),
        stored=_pack({name: getattr(note, name) for name in CaseNote.model_fields}),
        meaning=".\n".join(filter(None, texts["complaint"])),
        **_analyse(texts, numbers, finder),
    )


def _unreadable(path: str, data: bytes, finder: ConceptFinder) -> NoteRow:
    text = data.decode("utf-8", errors="replace")
    stem = PurePosixPath(path).stem
    numbers = {
        "date_days": days(_date_in(stem)),
        "fix_time_min": float("nan"),
        "check_time_min": float("nan"),
        "readable": False,
    }
    return NoteRow(
        texts={"path": path, "digest": digest_of(data), "case": stem, "comeback_of": ""},
        coded=dict.fromkeys(CODED, ""),
        cause_key="",
        stored=_pack({"case": stem, "date": _date_in(stem), "body": text}),
        meaning=text,
        **_analyse({"body": [text]}, numbers, finder),
    )


def _analyse(
    texts: Mapping[str, Sequence[str]], numbers: Mapping[str, float], finder: ConceptFinder
) -> dict[str, Any]:
    """Return what is known from the texts of each field; no phrase runs from one text into the next."""
    terms: dict[str, list[str]] = {field: [] for field in FIELDS}
    words: set[str] = set()
    for field, parts in texts.items():
        tokens = tokenise_quickly("\n".join(parts))
        terms[field] = terms_of(tokens, finder)
        words.update(words_of(tokens))
    lengths = {length: float(len(terms[field])) for length, field in zip(LENGTHS, FIELDS, strict=True)}
    return {
        "terms": terms,
        "numbers": {"size": 0, "mtime_ns": 0, **numbers, **lengths},
        # One object a word, not one a note: many notes are in memory at once while they are indexed.
        "words": sorted(map(intern, words)),
    }


def _texts_in(value: Any) -> Iterable[str]:
    """Yield every text of the fields this program does not know, names of fields left out."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _texts_in(inner)
    elif isinstance(value, Sequence):
        for inner in value:
            yield from _texts_in(inner)


def _date_in(stem: str) -> datetime.date:
    """Return the date a case number starts with; 1970-01-01 when it does not."""
    try:
        return datetime.datetime.strptime(stem[:8], "%Y%m%d").date()
    except ValueError:
        return _EPOCH


def _pack(fields: Mapping[str, Any]) -> bytes:
    return zlib.compress(json.dumps(fields, default=str).encode(), _FAST)


def unpack_note(stored: bytes) -> CaseNote:
    """Return the note that was packed; of one that could not be read, a blank note with its text as body.

    The bytes are the index's own, checked against its manifest, so nothing is validated again.
    """
    said = json.loads(inflate(stored, _LARGEST_UNPACKED))
    fields = _BLANK | {name: tuple(each) if isinstance(each, list) else each for name, each in said.items()}
    fields["date"] = datetime.date.fromisoformat(fields["date"])
    fields["outcome"] = Outcome(fields["outcome"])
    fields["blinks"] = _pattern(fields["blinks"]) if fields["blinks"] else None
    return CaseNote.model_construct(**fields)


_BLANK: dict[str, Any] = {
    **{name: field.default for name, field in CaseNote.model_fields.items() if not field.is_required()},
    **dict.fromkeys(("device", "chassis_family", "root_cause"), ""),
    "symptom": (),
    "fix_time_min": 0,
    "outcome": Outcome.NO_FAULT_FOUND,
}
_pattern = lru_cache(maxsize=1_000)(BlinkPattern.parse)


def vectors_of(notes: Sequence[NoteRow]) -> npt.NDArray[np.float16] | None:
    """Return the meaning vectors of notes, (notes, 256); None without the extra or any note."""
    meaning = load_meaning()
    if meaning is None or not notes:
        return None
    return meaning.vectors([note.meaning for note in notes]).astype(np.float16)


def facts_of(vocabulary: Vocabulary) -> dict[str, Any]:
    """Return what an index depends on beside the notes; built from anything else, it is built anew."""
    return {
        "vocabulary": digest_of(repr(vocabulary.terms).encode()),
        "meaning": load_meaning() is not None,
    }
