"""Every indexed case as one row of columns, so that questions to the whole notebook need no loop."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from functools import cached_property
from itertools import chain, compress
from typing import Any

import numpy as np
import numpy.typing as npt

from kb.notes.blinks import BlinkPattern
from kb.notes.case import CaseNote, Outcome
from search.index.documents import unpack_note
from search.index.rows import CODED, NUMBERS, CategoricalColumn, Rows, join_coded
from search.stats.arrays import BoolArray, FloatArray, IntArray

_NOTES_KEPT = 512  # notes of a segment unpacked lately, a few megabytes at most; chosen by us


class CaseTable:
    """Hold the cases of a notebook: one row for each document of the index, deleted ones included.

    Every array has the shape (size,). family, make, device, model, board, outcome and cause are codes; beside
    each stand its names, as in family_names: sorted, without those that only deleted rows use. A code is -1
    where the note says nothing, in deleted rows, and in notes that cannot be read.

    ids, paths, comeback_of: texts by row, "" where nothing is said. date_days: days since 1970-01-01.
    fix_time_min, check_time_min: bench minutes, nan where not said. readable: False for a bad note, of which
    only the words are known. cause_keys: what causes are compared by; rows with equal keys share a code in
    `cause`. cause_names: the most common spelling of each, of ties that of the newest case. blink_code,
    blink_patterns: the recorded pattern of each row.
    """

    def __init__(self, parts: Sequence[Rows], alive: BoolArray | None = None) -> None:
        """Put the rows of all segments below each other. alive: shape (size,), by default all."""
        self._parts = list(parts)
        self._starts = np.cumsum([0, *(len(part) for part in parts)]).tolist()
        self.size = int(self._starts[-1])
        self.alive: BoolArray = np.ones(self.size, np.bool_) if alive is None else alive
        self.ids = self.texts("case")
        self.paths = self.texts("path")
        self.comeback_of = self.texts("comeback_of")
        self.date_days: IntArray = self.numbers("date_days")
        self.fix_time_min: FloatArray = self.numbers("fix_time_min")
        self.check_time_min: FloatArray = self.numbers("check_time_min")
        self.readable: BoolArray = self.numbers("readable")
        coded = {
            name: join_coded([part.coded[name] for part in parts]).used(self.alive & self.readable)
            for name in CODED
        }
        self.family, self.family_names = coded["family"].codes, coded["family"].names
        self.make, self.make_names = coded["make"].codes, coded["make"].names
        self.device, self.device_names = coded["device"].codes, coded["device"].names
        self.model, self.model_names = coded["model"].codes, coded["model"].names
        self.board, self.board_names = coded["board"].codes, coded["board"].names
        self.outcome, self.outcome_names = coded["outcome"].codes, coded["outcome"].names
        self.blink_code = coded["blinks"].codes
        self.blink_patterns = [BlinkPattern.parse(name) for name in coded["blinks"].names]
        self.spelling, self.spelling_names = coded["cause"].codes, coded["cause"].names
        keys = {spelled: key for part in parts for spelled, key in part.cause_keys.items()}
        self.cause, self.cause_keys, self.cause_names = _merge_causes(coded["cause"], keys, self.date_days)

    @cached_property
    def fixed(self) -> BoolArray:
        """Tell which rows are cases that were fixed; shape (size,)."""
        mask: BoolArray = self.outcome == code_of(self.outcome_names, Outcome.FIXED)
        return mask

    @cached_property
    def row_of(self) -> Mapping[str, int]:
        """Return the row of each case number that is alive; the last one where notes share a number."""
        return {self.ids[row]: row for row in np.flatnonzero(self.alive).tolist()}

    @cached_property
    def comeback_row(self) -> IntArray:
        """Return for each row the row of the case whose comeback it is, -1 for none; (size,)."""
        rows = np.full(self.size, -1, np.int64)
        for row in compress(range(self.size), self.comeback_of):  # few come back
            rows[row] = self.row_of.get(self.comeback_of[row], -1)
        return np.where(self.alive, rows, -1)

    def comebacks_of(self, case: str) -> list[str]:
        """Return the later cases in which the fault of a case came back, oldest first."""
        if case not in self.row_of:
            return []
        later = np.flatnonzero(self.comeback_row == self.row_of[case])
        return [self.ids[row] for row in later[np.argsort(self.date_days[later], kind="stable")].tolist()]

    def segment_of(self, row: int) -> tuple[int, Rows]:
        """Return the first row of the segment that holds a row, and that segment.

        New segments come last: two tables with the same segment at the same row are the same up to it.
        """
        at = bisect_right(self._starts, row) - 1
        return self._starts[at], self._parts[at]

    def note(self, row: int) -> CaseNote:
        """Return a row's note from the index's own copy.

        A note that cannot be read gives a blank one with the file's text as body.
        """
        start, part = self.segment_of(row)
        place = int(row - start)
        note = part.unpacked.get(place)
        if note is None:
            if len(part.unpacked) >= _NOTES_KEPT:
                part.unpacked.clear()
            note = part.unpacked[place] = unpack_note(part.notes.row(place).tobytes())
        return note

    def texts(self, name: str) -> list[str]:
        """Return a column by its name in rows.TEXTS."""
        return list(chain.from_iterable(part.texts[name] for part in self._parts))

    def numbers(self, name: str) -> npt.NDArray[Any]:
        """Return a column by its name in rows.NUMBERS."""
        return np.concatenate([np.empty(0, NUMBERS[name]), *(part.numbers[name] for part in self._parts)])


def code_of(names: Sequence[str], name: str) -> int:
    """Return the code of a name, in any capitals if none is spelled so; -2, which no row has, if unknown."""
    if name in names:
        return names.index(name)
    folded = name.casefold()
    if not folded:
        return -2
    return next((code for code, each in enumerate(names) if each.casefold() == folded), -2)


def counts_by_name(codes: IntArray, names: Sequence[str]) -> tuple[tuple[str, int], ...]:
    """Return each name that codes stand for and how often it occurs, most first, then by name.

    Negative codes are left out.
    """
    counts = np.bincount(codes[codes >= 0])
    counted = [(names[code], int(counts[code])) for code in np.flatnonzero(counts).tolist()]
    return tuple(sorted(counted, key=lambda each: (-each[1], each[0])))


def _merge_causes(
    spellings: CategoricalColumn, keys: Mapping[str, str], dates: IntArray
) -> tuple[IntArray, list[str], list[str]]:
    """Return the cause code of each row, the sorted keys of the causes, and their most common spellings."""
    count = np.bincount(spellings.codes[spellings.codes >= 0], minlength=len(spellings.names))
    newest = np.full(len(spellings.names), np.iinfo(np.int32).min, np.int32)
    said = spellings.codes >= 0
    np.maximum.at(newest, spellings.codes[said], dates[said].astype(np.int32))
    named = [keys[name] for name in spellings.names]
    causes = sorted(set(named))
    place = {key: cause for cause, key in enumerate(causes)}
    cause_of = np.array([*(place[key] for key in named), -1], np.int32)
    # The most common is written last. Names are sorted, so of remaining ties the first in the alphabet stays.
    order = np.lexsort((-np.arange(len(named)), newest, count))
    chosen = np.zeros(len(causes), np.intp)
    chosen[cause_of[order]] = order
    return cause_of[spellings.codes], causes, [spellings.names[at] for at in chosen.tolist()]
