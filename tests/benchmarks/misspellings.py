"""Measure the lexicon on every misspelling in codespell's dictionary.

Run: python -m tests.benchmarks.misspellings

Compares the wide limits (3 edits), search's own narrower ones, difflib of the standard library and a plain
rapidfuzz extract by the same distance. The slow ones run on a seeded sample. The dictionary is read where
codespell is installed; nothing of it is kept.
"""

import difflib
import random
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import codespell_lib
from rapidfuzz import process
from rapidfuzz.distance import OSA, JaroWinkler

from search.reading.concepts import default_finder
from search.reading.spelling import Lexicon, spelling_for

SAMPLE = 1500
Ranked = Callable[[str], Sequence[str]]


def misspellings() -> list[tuple[str, str]]:
    """Return (wrong, right) for every entry with one correction, a single word of four letters or more."""
    dictionary = Path(codespell_lib.__file__).parent / "data" / "dictionary.txt"
    pairs = (line.strip().lower().partition("->") for line in dictionary.read_text("utf-8").splitlines())
    return [
        (wrong, right) for wrong, _, right in pairs if wrong.isalpha() and right.isalpha() and len(right) >= 4
    ]


def by_distance(word: str, words: Sequence[str]) -> list[str]:
    """Return the words within three edits, ties by Jaro-Winkler similarity: the plain way."""
    near = process.extract(word, words, scorer=OSA.distance, score_cutoff=3, limit=None)
    near.sort(key=lambda found: (found[1], -JaroWinkler.similarity(word, found[0])))
    return [found for found, _, _ in near]


def report(name: str, ranked: Ranked, pairs: Sequence[tuple[str, str]]) -> None:
    """Print how often the right word comes first and in the first three, and the time per word."""
    first = three = 0
    begin = time.perf_counter()
    for wrong, right in pairs:
        words = list(ranked(wrong))[:3]
        first += words[:1] == [right]
        three += right in words
    took = (time.perf_counter() - begin) / len(pairs) * 1000
    print(
        f"{name:34} {len(pairs):6} pairs  first {first / len(pairs):6.2%}  in three {three / len(pairs):6.2%}"
        f"  {took:6.2f} ms a word"
    )


def main() -> None:
    """Run every method and print a line for each."""
    pairs = misspellings()
    words = sorted({right for _, right in pairs})
    lexicon = Lexicon(dict.fromkeys(words, 1))
    sample = random.Random(20261121).sample(pairs, SAMPLE)
    print(f"{len(pairs)} pairs, {len(words)} words")
    report("lexicon, 3 edits", lambda word: [near for near, _ in lexicon.ranked(word, max_edits=3)], pairs)
    bent = spelling_for(default_finder(), lexicon)
    report("spelling, search's limits", lambda word: [guess.word for guess in bent.guesses(word)], sample)
    report("lexicon, 3 edits", lambda word: [near for near, _ in lexicon.ranked(word, max_edits=3)], sample)
    report(
        "rapidfuzz extract, OSA alone",
        lambda word: [near for near, _, _ in process.extract(word, words, scorer=OSA.distance, limit=3)],
        sample,
    )
    report("OSA to 3, ties by Jaro-Winkler", lambda word: by_distance(word, words), sample)
    spelling = spelling_for(default_finder(), None)
    known = [pair for pair in sample if not spelling.knows(pair[0])]
    report("spelling, general English", lambda word: [near.word for near in spelling.guesses(word)], known)
    slow = sample[:150]
    report("difflib (cutoff 0.6)", lambda word: difflib.get_close_matches(word, words, n=3), slow)


if __name__ == "__main__":
    main()
