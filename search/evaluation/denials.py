"""Measure how well denied words are found, on sentences in which they are marked."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kb.errors import BenchloreError
from search.evaluation.labelled import read_columns
from search.evaluation.metrics import measures_table
from search.reading.denial import grammatical_denials
from search.records import JsonRecord

_WORD = re.compile(r"\w+(?:['\u2019]\w+)*")
_RANGE = re.compile(r"(\d+)-(\d+)")

Ranges = Sequence[tuple[int, int]]  # of characters, end exclusive


@dataclass(frozen=True, kw_only=True)
class DenialFigures(JsonRecord):
    """Counts of words. right: found and marked; wrong: found, not marked; missed: marked, not found."""

    sentences: int
    right: int
    wrong: int
    missed: int

    @property
    def shares(self) -> dict[str, float]:
        """Precision, recall and their harmonic mean (van Rijsbergen 1979), 0 to 1; 0 without words."""
        right, wrong, missed = self.right, self.wrong, self.missed
        return {
            "precision": right / max(right + wrong, 1),
            "recall": right / max(right + missed, 1),
            "f1": 2 * right / max(2 * right + wrong + missed, 1),
        }

    def as_json(self) -> dict[str, Any]:
        return {**super().as_json(), **self.shares}

    def as_text(self) -> str:
        """Return the figures as lines for a terminal."""
        precision, recall, f1 = (f"{share:.3f}" for share in self.shares.values())
        table = measures_table(
            ("precision", precision, "of the words found, the share that is denied"),
            ("recall", recall, "of the denied words, the share that was found"),
            ("F1", f1, "harmonic mean of the two"),
            ("words", str(self.right), f"right; {self.wrong} wrong, {self.missed} missed"),
        )
        return f"Denied words in {self.sentences} sentences, without the cues\n{table}"


def measure_denials(path: Path) -> DenialFigures:
    """Find the denied words of every sentence in a CSV file, and compare them with the marks.

    Figures of speech ("not only") and missing functions ("no picture") count as denied, as in corpora
    annotated for negation. The file has the columns text and denied, the latter with ranges of characters
    such as `8-12 20-31`. Raises: BenchloreError, which names the file, the line and the remedy.
    """
    rows = read_columns(path, {"text": "text", "denied": "denied"})
    counts: Counter[tuple[bool, bool]] = Counter()  # words by (marked, found)
    for place, row in rows:
        marks, found = _marked(row, place), grammatical_denials(row["text"])
        words = [word.span() for word in _WORD.finditer(row["text"])]
        counts.update((_within(word, marks), _within(word, found)) for word in words)
    right, wrong, missed = counts[True, True], counts[False, True], counts[True, False]
    return DenialFigures(sentences=len(rows), right=right, wrong=wrong, missed=missed)


def _within(word: tuple[int, int], ranges: Ranges) -> bool:
    return any(start < word[1] and word[0] < end for start, end in ranges)


def _marked(row: dict[str, str], place: str) -> Ranges:
    """Return the ranges that a row marks as denied."""
    ranges = []
    for said in filter(None, re.split(r"[\s,;|]+", row["denied"])):
        match = _RANGE.fullmatch(said)
        start, end = (int(match[1]), int(match[2])) if match else (0, 0)
        if not start < end <= len(row["text"]):
            raise BenchloreError(
                f"{place}: denied: {said!r} is not a range in the text; write start-end, as in 8-12"
            )
        ranges.append((start, end))
    return ranges
