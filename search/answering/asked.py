"""A complaint as asked of one notebook: read with its names and words, and what to notice about it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from rapidfuzz import fuzz, process, utils

from kb.errors import NoteError, quoted
from kb.notes.blinks import BlinkPattern
from search.answering.knowledge import Knowledge, Ruling
from search.index.case_table import code_of
from search.reading.complaint import LONGEST_COMPLAINT, Reading, read_complaint
from search.reading.text import tokenise

LIKE_CAUSE, CAUSES_OFFERED = 70.0, 3  # least likeness of names in per cent, and how many; chosen by us
NOT_SAID = "none"  # given as family or blinks: the technician says that the text tells none


class BlinksError(NoteError):
    """A blink pattern given beside a complaint cannot be read; the message says what to write instead."""


def read_said(
    knowledge: Knowledge, text: str, *, family: str = "", blinks: str = "", literal: bool = False,
    yes: Sequence[str] = (), no: Sequence[str] = (), doubted: str = "",
) -> Reading:  # fmt: skip
    """Read a complaint with the names and words of one notebook. Raises: BlinksError.

    The other arguments: see Bench.answer(); doubted: see read_complaint().
    """
    reading = read_complaint(
        text, finder=knowledge.finder, families=list(knowledge.families.values()),
        lexicon=knowledge.snapshot.lexicon, blinks=_pattern(blinks),
        family="" if family == NOT_SAID else family, literal=literal, yes=yes, no=no,
        doubted=doubted,
    )  # fmt: skip
    sheets = [note.body for note in knowledge.families.values() if reading.codes]
    listed = {word.stem for sheet in sheets for word in tokenise(sheet)}
    unknown = [code.upper() for code in {*reading.codes} - listed if not knowledge.cases_with(code).any()]
    reading = replace(reading, not_understood=(*reading.not_understood, *sorted(unknown)))
    if blinks == NOT_SAID:
        reading = replace(reading, blinks=None)
    if family == NOT_SAID and reading.family:
        reading = replace(reading, family="", model="", make="", device="")
    elif family != NOT_SAID and reading.make and reading.blinks and not reading.family:
        reading = replace(reading, taken_to_be=knowledge.only_family(reading.make, reading.device))
    # A family that has cases but no note yet is a family all the same.
    if reading.family and reading.family not in knowledge.families:
        known = {name.casefold(): name for name in knowledge.table.family_names}
        return replace(reading, family=known.get(reading.family.casefold(), reading.family))
    return reading


def _pattern(blinks: str) -> BlinkPattern | None:
    try:
        return BlinkPattern.parse(blinks) if blinks.strip() and blinks != NOT_SAID else None
    except ValueError as error:
        raise BlinksError.of("blinks", quoted(blinks), str(error)) from error


def notices_for(reading: Reading, knowledge: Knowledge, ruling: Ruling, *, found: bool) -> list[str]:
    """Return the sentences to show beside an answer. found: whether any past case is shown."""
    family, too_long = reading.family, len(reading.text) > LONGEST_COMPLAINT
    new = family and family not in (*knowledge.families, *knowledge.table.family_names)
    has_cases, blinks = bool(np.any(knowledge.basis.readable)), _unmet_blinks(reading, knowledge)
    silent = not reading.terms and reading.blinks is None and not family
    unlike = not (silent or found) and has_cases
    only_set = reading.device and not (silent or unlike or family or reading.tells_fault)
    unknown = "No case has the cause {}, so it rules nothing out.{}"
    sentences = {
        f"Only the first {LONGEST_COMPLAINT:,} characters of the complaint were read.": too_long,
        f"The notebook knows no family or model {quoted(family)}; the answer goes by all others.": new,
        "Nothing in the complaint says what is wrong; these are the notebook's most common causes. "
        "Try what it does or does not do, a blink count, or a family.": silent,
        "No past case resembles this complaint; these are the notebook's most common causes. "
        "Try other words, a blink count, or a family.": unlike,
        f"Only the set was understood ({reading.device}): say what it does or does not do.": only_set,
        f"No repair here has noted the blinks {blinks}.": blinks,
        f"Two sets are named. This answers for the {reading.device_said or reading.device}; "
        f"ask about the {reading.other_set} separately.": reading.other_set,
        "The notebook has no readable case yet; write up the first repair.": not has_cases,
    }
    notices = [unknown.format(quoted(cause), _meant(cause, knowledge)) for cause in ruling.unknown]
    return notices + [says for says, holds in sentences.items() if holds]


def _meant(cause: str, knowledge: Knowledge) -> str:
    """Return "Did you mean ...?" for a cause that no case has, "" if no name is near."""
    near = process.extract(
        cause, knowledge.table.cause_names, scorer=fuzz.token_set_ratio, processor=utils.default_process,
        limit=CAUSES_OFFERED, score_cutoff=LIKE_CAUSE,
    )  # fmt: skip
    return f" Did you mean {', '.join(quoted(name) for name, _, _ in near)}?" if near else ""


def _unmet_blinks(reading: Reading, knowledge: Knowledge) -> str:
    """Return the blinks if no case and no service sheet of the family (else of any) has them, else ""."""
    if reading.blinks is None:
        return ""
    table, family = knowledge.table, reading.family
    in_scope = knowledge.basis.readable & (table.blink_code >= 0)
    if family:
        in_scope &= table.family == code_of(table.family_names, family)
    noted = [table.blink_patterns[code] for code in np.unique(table.blink_code[in_scope]).tolist()]
    notes = [note for name, note in knowledge.families.items() if family in ("", name)]
    noted += [pattern for note in notes for pattern, _ in note.blink_meaning]
    return "" if any(map(reading.blinks.shares_count, noted)) else str(reading.blinks)
