"""How somebody's table becomes cases: guessed by its columns' names, then as the technician says."""

from collections.abc import Callable, Mapping, Sequence
from functools import cache

from kb.exchange.columns import guess_mapping
from kb.exchange.rows import JOB_NOTE, FieldRead, ReadText
from search.bench import Bench
from search.reading.job_note import read_job_note


def columns_for(header: Sequence[str], mapped: Mapping[str, str] | None = None) -> dict[str, str]:
    """Return which column holds which field, by their names. mapped: what was said; "" for no column."""
    columns = {**guess_mapping(header), **(mapped or {})}
    if JOB_NOTE not in columns and "body" in columns and "root_cause" not in columns:
        columns[JOB_NOTE] = columns.pop("body")  # without fields of their own, they can only be in the text
    return {name: column for name, column in columns.items() if column}


def job_note_reader(bench: Callable[[], Bench]) -> ReadText:
    """Return what reads fields from free text in a notebook's own words; the bench is asked for only then."""

    opened = cache(bench)

    def read(text: str) -> Mapping[str, FieldRead]:
        known, finder = opened().knowledge, opened().finder
        families = list(known.families.values())
        return read_job_note(text, families=families, finder=finder, causes=known.known_causes)

    return read
