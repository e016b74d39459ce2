"""Turn a note into what the index keeps of it: terms by field, a row of columns, the packed note."""

import datetime
import json
import zlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import chain, repeat
from pathlib import PurePosixPath
from typing import Any

from kb.errors import NoteError
from kb.notebook import LARGEST_NOTE_BYTES, FileStamp
from kb.notes.blinks import BlinkPattern
from kb.notes.case import CaseNote, Outcome
from kb.notes.frontmatter import decode_note
from kb.terms import Vocabulary
from search.index.integrity import digest_of
from search.index.rows import FIELDS, NoteRow
from search.index.safe_pickle import inflate
from search.reading.concepts import ConceptFinder
from search.reading.plain_form import terms_of
from search.reading.sentences import load_sentences
from search.reading.text import Token, tokenise, tokenise_quickly, words_of
from search.reading.vectors import load_meaning

_File = tuple[str, bytes, FileStamp, bool]
_EPOCH = datetime.date(1970, 1, 1)
_LARGEST_UNPACKED = 8 * LARGEST_NOTE_BYTES  # fields and body of one note; a letter has at most four bytes
SENTENCES = "sentences"
MOST_SENTENCES = 4_000  # notes; a sentence vector takes 4 ms of indexing and 4 of learning; chosen by us
_FAST = 1  # zlib's quickest level: a note is packed once and read often


def days(date: datetime.date) -> int:
    """Return a date as days since 1970-01-01."""
    return (date - _EPOCH).days


@lru_cache(maxsize=20_000)
def cause_key(root_cause: str, finder: ConceptFinder) -> str:
    """Return what root causes are compared by: their distinct terms and numbers, in no order.

    Short numbers count, although searches leave them out: LED strip 1 is not LED strip 2.
    A text without any term ("?!") stands for itself.
    """
    tokens = tokenise(root_cause)
    numbers = (token.stem for token in tokens if token.stem.isdigit())
    terms = {*terms_of(tokens, finder.concepts(tokens)), *numbers}
    return " ".join(sorted(terms)) or root_cause.casefold()


def read_documents(notes: Sequence[tuple[str, bytes, FileStamp]], finder: ConceptFinder) -> list[NoteRow]:
    """Return what the index keeps of case notes; of one that cannot be read, its words.

    notes: (path, bytes, stamp) of each.
    """
    parsed = [_parse(path, data) for path, data, _ in notes]
    files = [(*file, readable) for file, (_, readable) in zip(notes, parsed, strict=True)]
    return case_documents([note for note, _ in parsed], finder, files)


def _parse(path: str, data: bytes) -> tuple[CaseNote, bool]:
    """Return a note and True; for one that cannot be read, its case, date and body, and False."""
    try:
        return CaseNote.parse(decode_note(data, file=path), file=path), True
    except NoteError:
        stem = PurePosixPath(path).stem
        text = data.decode("utf-8", errors="replace")
        return _BLANK.model_copy(update={"case": stem, "date": _date_in(stem), "body": text}), False


def case_documents(
    notes: Sequence[CaseNote], finder: ConceptFinder, files: Iterable[_File] = repeat(("", b"", (0, 0), True))
) -> list[NoteRow]:
    """Return what the index keeps of case notes. files: (path, bytes, stamp, whether it can be read) of each.

    Each step is done for all notes before the next step begins. Note by note it takes a quarter longer, since
    the processor's caches hold one step but not all.
    """
    tokens = [_tokens_of(note) for note in notes]
    terms = [
        {field: terms_of(each[field], finder.concepts(each[field])) for field in FIELDS} for each in tokens
    ]
    keys = [cause_key(note.root_cause, finder) for note in notes]
    return list(map(_row, notes, keys, files, tokens, terms))


def _tokens_of(note: CaseNote) -> dict[str, list[Token]]:
    set_of = note.device, note.make, note.model, note.chassis_family
    texts = {
        "complaint": (note.complaint, *note.symptom),
        "cause": (note.root_cause,),
        "fix": (note.fix, *note.parts, note.board, note.check),
        "body": (note.body, note.proof, *set_of, *_texts_in(note.unknown)),
    }
    # A phrase must not run from one text into the next.
    return {field: tokenise_quickly("\n".join(texts[field])) for field in FIELDS}


def _row(
    note: CaseNote, key: str, file: _File, tokens: Mapping[str, list[Token]], terms: Mapping[str, list[str]]
) -> NoteRow:
    path, data, stamp, readable = file
    coded = {
        "family": note.chassis_family,
        "make": note.make,
        "device": note.device,
        "model": note.model,
        "board": note.board,
        "cause": note.root_cause,
        "outcome": str(note.outcome) if readable else "",
        "blinks": "" if note.blinks is None else str(note.blinks),
    }
    numbers = {
        "size": stamp[0],
        "mtime_ns": stamp[1],
        "date_days": days(note.date),
        "fix_time_min": note.fix_time_min if readable else float("nan"),
        "check_time_min": float("nan") if note.check_time_min is None else note.check_time_min,
        "readable": readable,
        **{f"length_{field}": len(terms[field]) for field in FIELDS},
    }
    unlike_blank = {name: value for name, value in vars(note).items() if value != getattr(_BLANK, name)}
    return NoteRow(
        texts={"path": path, "digest": digest_of(data), "case": note.case, "comeback_of": note.comeback_of},
        coded=coded,
        numbers=numbers,
        cause_key=key,
        terms=terms,
        words=words_of(chain.from_iterable(tokens.values())),
        stored=zlib.compress(json.dumps(unlike_blank, default=str).encode(), _FAST),
        meaning=".\n".join(filter(None, (note.complaint, *note.symptom))),
    )


def _texts_in(value: Any) -> Iterable[str]:
    """Yield every text in a value of an unknown field; keys are left out."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _texts_in(inner)
    elif isinstance(value, Sequence):
        for inner in value:
            yield from _texts_in(inner)


def _date_in(stem: str) -> datetime.date:
    """Return the date that a file's stem starts with, or 1970-01-01."""
    try:
        return datetime.datetime.strptime(stem[:8], "%Y%m%d").date()
    except ValueError:
        return _EPOCH


def unpack_note(stored: bytes) -> CaseNote:
    """Return a packed note; of one that could not be read, a blank note with its text as body.

    The bytes were checked against the index's manifest, so the values are not validated again.
    """
    said = json.loads(inflate(stored, _LARGEST_UNPACKED))
    fields = {name: tuple(each) if isinstance(each, list) else each for name, each in said.items()}
    for name, read in _READ.items():
        if name in fields:
            fields[name] = read(fields[name])
    return _BLANK.model_copy(update=fields)


# A note that cannot be read has blanks even where a field is required.
_BLANK = CaseNote.model_construct(
    date=_EPOCH,
    symptom=(),
    fix_time_min=0,
    outcome=Outcome.NO_FAULT_FOUND,
    device="",
    chassis_family="",
    root_cause="",
)
_READ: Mapping[str, Callable[[Any], Any]] = {
    "date": datetime.date.fromisoformat,
    "outcome": Outcome,
    "blinks": lru_cache(maxsize=1_000)(BlinkPattern.parse),
}


def facts_of(vocabulary: Vocabulary, notes: int) -> dict[str, Any]:
    """Return what an index of so many notes depends on. When any of it changes, the index is built anew."""
    return {"vocabulary": digest_of(repr(vocabulary.terms).encode()), "meaning": _meaning_of(notes)}


def _meaning_of(notes: int) -> str:
    """Return which vectors the notes get: SENTENCES, of single "words", or "" for none."""
    if load_meaning() is None:
        return ""
    return SENTENCES if notes <= MOST_SENTENCES and load_sentences() is not None else "words"
