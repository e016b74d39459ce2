"""Other search engines on the same notes and complaints, to measure ours against.

Each takes the texts of the notes and returns how to search them for the best 20 by BM25.
"""

import re
import sqlite3
import time
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

import bm25s
import numpy as np
import tantivy
from whoosh import fields, scoring
from whoosh.filedb.filestore import RamStorage
from whoosh.query import Or, Term

from tests.benchmarks.generate import generate_complaints, generate_notes
from tests.benchmarks.ours import QUERIES, times_ms

BEST = 20
Search = Callable[[Sequence[str]], object]


def words(text: str) -> list[str]:
    """Return the words of a complaint, such as every engine can search for."""
    return re.findall(r"[a-z0-9]+", text.lower())


def fts5(texts: Sequence[str]) -> Search:
    """Index with SQLite's own full-text search."""
    base = sqlite3.connect(":memory:")
    base.execute("CREATE VIRTUAL TABLE notes USING fts5(text)")
    base.executemany("INSERT INTO notes VALUES (?)", ((text,) for text in texts))
    question = "SELECT rowid FROM notes WHERE notes MATCH ? ORDER BY rank LIMIT ?"
    return lambda said: base.execute(question, (" OR ".join(f'"{word}"' for word in said), BEST)).fetchall()


def tantivy_index(texts: Sequence[str]) -> Search:
    """Index with tantivy."""
    builder = tantivy.SchemaBuilder()
    builder.add_text_field("text")
    index = tantivy.Index(builder.build())
    writer = index.writer()
    for text in texts:
        writer.add_document(tantivy.Document(text=text))
    writer.commit()
    index.reload()
    searcher = index.searcher()
    return lambda said: searcher.search(index.parse_query(" ".join(said), ["text"]), BEST)


def bm25s_index(texts: Sequence[str]) -> Search:
    """Index with bm25s."""
    retriever = bm25s.BM25()
    retriever.index(bm25s.tokenize(list(texts), stopwords=None, show_progress=False), show_progress=False)
    best = min(BEST, len(texts))
    return lambda said: retriever.retrieve([list(said)], k=best, show_progress=False)


def whoosh_index(texts: Sequence[str]) -> Search:
    """Index and search with Whoosh alone."""
    index = RamStorage().create_index(fields.Schema(text=fields.TEXT(phrase=False)))
    writer = index.writer(limitmb=256)
    for text in texts:
        writer.add_document(text=text)
    writer.commit()
    searcher = index.searcher(weighting=scoring.BM25F())
    return lambda said: searcher.search(Or([Term("text", word) for word in said]), limit=BEST)


ENGINES: Mapping[str, Callable[[Sequence[str]], Search]] = MappingProxyType(
    {"SQLite FTS5": fts5, "tantivy": tantivy_index, "bm25s": bm25s_index, "Whoosh's own": whoosh_index}
)


def engine_figures(name: str, notes: int) -> tuple[float, float, float]:
    """Return an engine's seconds to index, and its median and 95th percentile in ms."""
    texts = [text for _, text in generate_notes(notes)]
    questions = [words(each) for each in generate_complaints(QUERIES + 1)[1:]]
    started = time.perf_counter()
    search = ENGINES[name](texts)
    took_s = time.perf_counter() - started
    times_ms(search, questions)
    times = times_ms(search, questions)
    return took_s, float(np.median(times)), float(np.quantile(times, 0.95))
