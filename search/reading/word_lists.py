"""The small word lists of reading, from words.toml beside this module."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.util import find_spec
from pathlib import Path


@cache
def word_lists() -> Mapping[str, Mapping[str, str]]:
    """Return every list by section and name; the words of a list have white space between them."""
    lists: dict[str, dict[str, str]] = tomllib.loads(
        (Path(__file__).parent / "words.toml").read_text(encoding="utf-8")
    )
    return lists


def word_sets(section: str) -> dict[str, frozenset[str]]:
    """Return the lists of a section as sets, by name."""
    return {name: frozenset(words.split()) for name, words in word_lists()[section].items()}


def folder_of(package: str) -> Path | None:
    """Return the folder of an installed package, None where it is not installed; nothing is imported."""
    spec = find_spec(package)
    folders = spec.submodule_search_locations if spec is not None else None
    return Path(next(iter(folders))) if folders else None
