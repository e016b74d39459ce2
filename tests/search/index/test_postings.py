"""Hold the block reader against Whoosh's own matcher and scorer, and the cache against its bound."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from whoosh import fields, scoring
from whoosh.analysis import SpaceSeparatedTokenizer
from whoosh.query import Or, Term

from search.index.postings import (
    USUAL_CACHE_MB,
    BlockPostings,
    MemoryPostings,
    Posting,
    PostingCache,
    PostingSource,
)
from search.stats.arrays import FloatArray
from tests.search.memory import OwnMemory

FIELDS = ("complaint", "body")
WORDS = [f"w{number}" for number in range(40)]


def random_documents(rng: np.random.Generator, count: int) -> list[dict[str, list[str]]]:
    """Make documents whose words are as uneven as real ones: a few are nearly everywhere."""
    shares = 1 / np.arange(1, len(WORDS) + 1)
    shares /= shares.sum()
    return [
        {
            field: rng.choice(WORDS, rng.integers(0, longest), p=shares).tolist()
            for field, longest in zip(FIELDS, (9, 40), strict=True)
        }
        for _ in range(count)
    ]


def whoosh_index(documents: list[dict[str, list[str]]], cuts: list[int], dead: list[int]) -> Any:
    """Index documents with Whoosh, one segment between two cuts, and delete some."""
    words = fields.TEXT(analyzer=SpaceSeparatedTokenizer(), phrase=False)
    index = OwnMemory().create_index(fields.Schema(**dict.fromkeys(FIELDS, words)))
    for start, end in pairwise([0, *cuts, len(documents)]):
        writer = index.writer()
        for document in documents[start:end]:
            writer.add_document(**{field: " ".join(terms) for field, terms in document.items()})
        writer.commit(merge=False)
    if dead:
        writer = index.writer()
        for number in dead:
            writer.delete_document(number)
        writer.commit(merge=False)
    return index


def collection(seed: int) -> tuple[list[dict[str, list[str]]], list[int], Any]:
    """Return random documents, the numbers of those deleted, and their index."""
    rng = np.random.default_rng(seed)
    documents = random_documents(rng, int(rng.integers(1, 700)))
    cuts = sorted(set(rng.integers(1, len(documents) + 1, rng.integers(0, 5)).tolist()) - {len(documents)})
    dead = np.flatnonzero(rng.random(len(documents)) < rng.choice([0.0, 0.2])).tolist()
    return documents, dead, whoosh_index(documents, cuts, dead)


@pytest.mark.parametrize("seed", range(12))
def test_blocks_hold_what_whooshs_matcher_walks(seed: int) -> None:
    _, _, index = collection(seed)
    reader = index.reader()
    source = BlockPostings(reader)
    for field in FIELDS:
        for word in reader.field_terms(field):
            numbers, frequencies = source.postings(field, word)
            alive = source.alive[numbers]
            matcher = reader.postings(field, word)
            walked = []
            while matcher.is_active():
                walked.append((matcher.id(), matcher.weight()))
                matcher.next()
            assert list(zip(numbers[alive].tolist(), frequencies[alive].tolist(), strict=True)) == walked


@pytest.mark.parametrize("seed", range(12))
def test_blocks_equal_the_collection_in_memory(seed: int) -> None:
    documents, dead, index = collection(seed)
    source, memory = BlockPostings(index.reader()), MemoryPostings(documents)
    assert np.flatnonzero(~source.alive).tolist() == dead
    for field in FIELDS:
        for word in [*WORDS, "unknown"]:
            for ours, wanted in zip(source.postings(field, word), memory.postings(field, word), strict=True):
                assert ours.tolist() == wanted.tolist()
        short = memory.lengths(field) <= 10  # Whoosh rounds longer ones up
        assert source.lengths(field)[short].tolist() == memory.lengths(field)[short].tolist()


def whoosh_bm25(source: PostingSource, field: str, word: str, mean: float) -> FloatArray:
    """Score one field as Whoosh 2.7.4 does (whoosh/scoring.py: bm25, WeightingModel.idf)."""
    scores = np.zeros(source.size, np.float64)
    numbers, frequencies = source.postings(field, word)
    idf = math.log(source.size / (len(numbers) + 1)) + 1
    length = source.lengths(field)[numbers]
    scores[numbers] = idf * frequencies * 2.2 / (frequencies + 1.2 * (0.25 + 0.75 * length / mean))
    return scores


@pytest.mark.parametrize("seed", range(12))
def test_scores_from_blocks_equal_whooshs_own_searcher(seed: int) -> None:
    _, _, index = collection(seed)
    source = BlockPostings(index.reader())
    query = [(field, word) for word in ("w0", "w3", "w17", "unknown") for field in FIELDS]
    with index.searcher(weighting=scoring.BM25F()) as searcher:
        hits = searcher.search(Or([Term(*part) for part in query]), limit=None)
        theirs = {hit.docnum: hit.score for hit in hits}
        ours = sum(
            whoosh_bm25(source, field, word, searcher.avg_field_length(field))
            for field, word in query
            if (field, word) in searcher.reader()
        )
    found = np.flatnonzero((ours > 0) & source.alive).tolist()
    assert sorted(theirs) == found
    assert [ours[number] for number in found] == pytest.approx([theirs[n] for n in found], rel=1e-4)


def test_an_inlined_posting_is_read() -> None:
    class Info:
        def is_inlined(self) -> bool:
            return True

        def inlined_postings(self) -> tuple[tuple[int, ...], tuple[float, ...], tuple[bytes, ...]]:
            return (3, 8), (1.0, 2.0), (b"", b"")

    index = whoosh_index([{"body": ["w1"]}], [], [])
    reader = index.reader()
    reader._terms.term_info = lambda field, term: Info()
    numbers, frequencies = BlockPostings(reader).postings("body", "w1")
    assert (numbers.tolist(), frequencies.tolist()) == ([3, 8], [1.0, 2.0])


def test_an_empty_index_has_nothing() -> None:
    source = BlockPostings(whoosh_index([], [], []).reader())
    assert source.size == 0
    assert source.postings("body", "w1")[0].size == 0


def test_a_field_nobody_filled_has_nothing() -> None:
    source = BlockPostings(whoosh_index([{"body": ["w1"]}], [], []).reader())
    assert source.postings("complaint", "w1")[0].size == 0
    assert source.lengths("complaint").tolist() == [0.0]


def lists_of(length: int) -> Callable[[], Posting]:
    """Return a reader of a posting list with that many documents."""
    return lambda: (np.arange(length, dtype=np.int32), np.ones(length, np.float32))


def test_cache_stays_within_its_bound_and_drops_the_least_used() -> None:
    cache = PostingCache(30_000 / (USUAL_CACHE_MB * 1e6))
    for number in range(50):
        cache.fetch(("segment", "body", f"w{number}"), lists_of(1000))
        cache.fetch(("segment", "body", "w0"), lists_of(1))
    assert cache.used_bytes <= 30_000
    assert 1 < len(cache) < 5
    assert cache.fetch(("segment", "body", "w0"), lists_of(1))[0].size == 1000
    assert cache.fetch(("segment", "body", "w1"), lists_of(1))[0].size == 1


def test_a_list_too_long_to_keep_is_still_answered() -> None:
    cache = PostingCache(0.0)
    assert cache.fetch(("segment", "body", "w0"), lists_of(1000))[0].size == 1000
    assert (len(cache), cache.used_bytes) == (0, 0)
