"""Measure how well the scope of denials is found, on sentences whose denied words are marked."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kb.errors import BenchloreError
from search.evaluation.csv_columns import read_columns
from search.evaluation.report import measures_table
from search.reading.denial import grammatical_denials
from search.records import JsonRecord

_WORD = re.compile(r"\w+(?:['\u2019]\w+)*")
_RANGE = re.compile(r"(\d+)-(\d+)")

Ranges = Sequence[tuple[int, int]]


@dataclass(frozen=True, kw_only=True)
class MarkedSentence:
    """Hold a sentence and the character ranges that are denied in it, end exclusive."""

    text: str
    denied: Ranges


@dataclass(frozen=True, kw_only=True)
class DenialFigures(JsonRecord):
    """Hold counts of words: found and marked; found, not marked; marked, not found."""

    sentences: int
    right: int
    wrong: int
    missed: int

    @property
    def precision(self) -> float:
        """Share of the words found that are marked, 0 to 1; 0 if none was found."""
        return self.right / max(self.right + self.wrong, 1)

    @property
    def recall(self) -> float:
        """Share of the marked words that were found, 0 to 1; 0 if none is marked."""
        return self.right / max(self.right + self.missed, 1)

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall, 0 to 1 (van Rijsbergen 1979)."""
        return 2 * self.right / max(2 * self.right + self.wrong + self.missed, 1)

    def as_json(self) -> dict[str, Any]:
        """Return the counts and the figures made of them."""
        return {**super().as_json(), "precision": self.precision, "recall": self.recall, "f1": self.f1}

    def as_text(self) -> str:
        """Return the figures as lines for a terminal."""
        return "\n".join(
            (
                f"Denied words in {self.sentences} sentences, each word but the cue counted",
                measures_table(
                    (
                        ("precision", f"{self.precision:.3f}", "share of the words found that are denied"),
                        ("recall", f"{self.recall:.3f}", "share of the denied words that were found"),
                        ("F1", f"{self.f1:.3f}", "harmonic mean of the two"),
                        ("words", str(self.right), f"right; {self.wrong} wrong, {self.missed} missed"),
                    )
                ),
            )
        )


def measure_denials(path: Path) -> DenialFigures:
    """Find the denied words of every sentence in a CSV file and count where they agree with the marks.

    Figures of speech ("not only") and missing functions ("no picture") count as denied here, as they do in
    corpora annotated for negation.

    Args:
        path: the file, with the columns text and denied; denied holds ranges such as `8-12 20-31`.

    Raises:
        BenchloreError: the message names the file, the line and the remedy.
    """
    rows = read_columns(path, {"text": "text", "denied": "denied"})
    sentences = [_marked(row, place) for place, row in rows]
    right = wrong = missed = 0
    for sentence in sentences:
        found = grammatical_denials(sentence.text)
        for word in _WORD.finditer(sentence.text):
            marked, denied = _within(word.span(), sentence.denied), _within(word.span(), found)
            right += marked and denied
            wrong += denied and not marked
            missed += marked and not denied
    return DenialFigures(sentences=len(sentences), right=right, wrong=wrong, missed=missed)


def _within(word: tuple[int, int], ranges: Ranges) -> bool:
    return any(start < word[1] and word[0] < end for start, end in ranges)


def _marked(row: dict[str, str], place: str) -> MarkedSentence:
    text = row["text"]
    ranges = []
    for said in re.split(r"[\s,;|]+", row["denied"]):
        match = _RANGE.fullmatch(said)
        start, end = (int(match[1]), int(match[2])) if match else (0, 0)
        if said and not start < end <= len(text):
            raise BenchloreError(
                f"{place}: denied: {said!r} is no range of the text; write start-end, as in 8-12"
            )
        if said:
            ranges.append((start, end))
    return MarkedSentence(text=text, denied=ranges)
