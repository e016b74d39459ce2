"""Hold our codec and reader against Whoosh's own codec and scorer, and the cache against its bound."""

import math
import tracemalloc
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from whoosh import fields, scoring
from whoosh.analysis import SpaceSeparatedTokenizer
from whoosh.codec.whoosh3 import W3Codec, W3TermInfo
from whoosh.formats import Existence
from whoosh.query import Or, Term

from search.index.codec import ArrayCodec, Posting, read_postings
from search.index.postings import (
    BlockPostings,
    MemoryPostings,
    PostingCache,
    PostingSource,
)
from search.index.segments import MemoryStorage
from search.stats.arrays import FloatArray

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


def whoosh_index(
    documents: list[dict[str, list[str]]], cuts: list[int], dead: list[int], codec: Any = None
) -> Any:
    """Index documents with Whoosh, by our codec or another, one segment between two cuts; delete some."""
    words = fields.TEXT(analyzer=SpaceSeparatedTokenizer(), phrase=False)
    index = MemoryStorage({}).create_index(fields.Schema(**dict.fromkeys(FIELDS, words)))
    for start, end in pairwise([0, *cuts, len(documents)]):
        writer = index.writer(codec=codec or ArrayCodec())
        for document in documents[start:end]:
            writer.add_document(**{field: " ".join(terms) for field, terms in document.items()})
        writer.commit(merge=False)
    if dead:
        writer = index.writer()
        for number in dead:
            writer.delete_document(number)
        writer.commit(merge=False)
    return index


def source_of(reader: Any) -> BlockPostings:
    """Read an index with Whoosh's own lengths, which are exact up to 10."""
    numbers = range(reader.doc_count_all())
    lengths = {
        field: np.array([reader.doc_field_length(each, field, 0) or 0 for each in numbers], np.float32)
        for field in FIELDS
    }
    return BlockPostings(reader, lengths)


def collection(seed: int, codec: Any = None) -> tuple[list[dict[str, list[str]]], list[int], Any]:
    """Return random documents, the numbers of those deleted, and their index."""
    rng = np.random.default_rng(seed)
    documents = random_documents(rng, int(rng.integers(1, 700)))
    cuts = sorted(set(rng.integers(1, len(documents) + 1, rng.integers(0, 5)).tolist()) - {len(documents)})
    dead = np.flatnonzero(rng.random(len(documents)) < rng.choice([0.0, 0.2])).tolist()
    return documents, dead, whoosh_index(documents, cuts, dead, codec)


@pytest.mark.parametrize("seed", range(12))
def test_whoosh_walks_the_same_lists_as_with_its_own_codec(seed: int) -> None:
    ours, theirs = (collection(seed, codec)[2].reader() for codec in (ArrayCodec(), W3Codec()))
    source = source_of(ours)
    assert list(ours.all_terms()) == list(theirs.all_terms())
    for field in FIELDS:
        for word in theirs.field_terms(field):
            walked = [walk(reader.postings(field, word)) for reader in (ours, theirs)]
            assert walked[0] == walked[1]
            numbers, frequencies = source.postings(field, word)
            alive = source.alive[numbers]
            assert list(zip(numbers[alive].tolist(), frequencies[alive].tolist(), strict=True)) == walked[1]


def walk(matcher: Any) -> list[tuple[int, float]]:
    walked = []
    while matcher.is_active():
        walked.append((matcher.id(), matcher.weight()))
        matcher.next()
    return walked


@pytest.mark.parametrize("seed", range(12))
def test_whooshs_searcher_scores_the_same_as_with_its_own_codec(seed: int) -> None:
    query = Or([Term(field, word) for word in ("w0", "w3", "w17") for field in FIELDS])
    found = []
    for codec in (ArrayCodec(), W3Codec()):
        with collection(seed, codec)[2].searcher(weighting=scoring.BM25F()) as searcher:
            found.append([(hit.docnum, hit.score) for hit in searcher.search(query, limit=5)])
    assert found[0] == found[1]


@pytest.mark.parametrize("far", [0, 255, 256, 65_535, 65_536, 1_000_000])
@pytest.mark.parametrize("often", [1, 2, 255, 256, 100_000])
def test_numbers_far_apart_and_high_frequencies_are_kept(far: int, often: int) -> None:
    storage = MemoryStorage({})
    writer = ArrayCodec().postings_writer(storage.create_file("lists"))
    writer._postfile.write(b"before")
    writer.start_postings(Existence(), W3TermInfo())
    writer.write_list(np.array([far, far + 1, 2 * far + 2]), np.array([1, often, 1]))
    info = W3TermInfo.from_bytes(writer.finish_postings().to_bytes())
    writer._postfile.close()
    matcher = ArrayCodec().postings_reader(storage.open_file("lists"), info, Existence())
    assert walk(matcher) == [(far, 1), (far + 1, often), (2 * far + 2, 1)]
    assert (info.doc_frequency(), info.weight(), info.max_weight()) == (3, 2 + often, often)
    assert (info.min_id(), info.max_id()) == (far, 2 * far + 2)


def test_a_list_of_documents_that_are_not_there_is_refused() -> None:
    reader = whoosh_index([{"body": ["w1"]}, {"body": ["w1"]}], [], []).reader()
    reader._segment._doccount = 1
    reader._perdoc._doccount = 1
    with pytest.raises(ValueError, match="not there"):
        read_postings(reader, "body", "w1")


@pytest.mark.parametrize("seed", range(12))
def test_blocks_equal_the_collection_in_memory(seed: int) -> None:
    documents, dead, index = collection(seed)
    source, memory = source_of(index.reader()), MemoryPostings(documents)
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
    source = source_of(index.reader())
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


def test_a_file_in_memory_is_opened_without_a_copy() -> None:
    size = 1_000_000
    storage = MemoryStorage({"list": bytes(size)})
    tracemalloc.start()
    opened = storage.open_file("list")
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert opened.get(size - 2, 2) == bytes(2)
    assert most < size / 2


def test_an_empty_index_has_nothing() -> None:
    source = source_of(whoosh_index([], [], []).reader())
    assert source.size == 0
    assert source.postings("body", "w1")[0].size == 0


def test_a_field_nobody_filled_has_nothing() -> None:
    source = source_of(whoosh_index([{"body": ["w1"]}], [], []).reader())
    assert source.postings("complaint", "w1")[0].size == 0
    assert source.lengths("complaint").tolist() == [0.0]


def lists_of(length: int) -> Callable[[], Posting]:
    """Return a reader of a posting list with that many documents."""
    return lambda: (np.arange(length, dtype=np.int32), np.ones(length, np.float32))


def test_cache_stays_within_its_bound_and_drops_the_least_used() -> None:
    cache = PostingCache(0.03)
    for number in range(50):
        cache.fetch(("segment", "body", f"w{number}"), lists_of(1000))
        cache.fetch(("segment", "body", "w0"), lists_of(1))
    assert 8_000 < cache.used_bytes <= 30_000
    assert cache.fetch(("segment", "body", "w0"), lists_of(1))[0].size == 1000
    assert cache.fetch(("segment", "body", "w1"), lists_of(1))[0].size == 1


def test_a_list_too_long_to_keep_is_still_answered() -> None:
    cache = PostingCache(0.0)
    assert cache.fetch(("segment", "body", "w0"), lists_of(1000))[0].size == 1000
    assert cache.used_bytes == 0
