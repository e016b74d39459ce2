"""Which checks and repairs need the set opened, judged by the words of the note (see outside.toml)."""

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path

WORD_LISTS = Path(__file__).with_name("outside.toml")


@lru_cache(maxsize=10_000)  # a dozen patterns a check, and the same checks in every answer
def is_inside(check: str, board: str = "") -> bool:
    """Say whether a check needs the set opened, by its text and its board, which may be a "mains lead".

    False only where the words say that the set is closed, or name a check done from outside and no place
    inside. Anything unclear counts as inside.
    """
    lists = _word_lists()
    inside = bool(lists["inside"].search(check))
    if lists["closed"].search(check) and not inside:
        return False
    if inside or lists["part_letters"].search(check):
        return True
    if lists["visible_boards"].search(board) and lists["look"].match(check):
        return False
    return not (lists["outside"].search(check) or lists["outside_boards"].search(board))


def fix_needs_opening(parts: Sequence[object], board: str) -> bool:
    """Say whether a repair needs the set opened: it took a part, and its board is not outside the set."""
    return bool(parts) and is_inside("", board)


@lru_cache(maxsize=1)
def _word_lists() -> Mapping[str, re.Pattern[str]]:
    """Return the lists of outside.toml, each as one pattern."""
    lists: dict[str, list[str]] = tomllib.loads(WORD_LISTS.read_text(encoding="utf-8"))
    letters = "|".join(lists.pop("part_letters"))
    patterns = {name: _any_of(_pattern(phrase) for phrase in phrases) for name, phrases in lists.items()}
    return {**patterns, "part_letters": _any_of([rf"({letters})\d{{1,4}}"])}


def _any_of(patterns: Iterable[str]) -> re.Pattern[str]:
    return re.compile(rf"\b({'|'.join(patterns)})(?!\w)", re.IGNORECASE)


def _pattern(phrase: str) -> str:
    """Return the pattern of a phrase: "a/b" is either word, "a?" may be left out, "a*" begins a word."""
    said = ""
    for place, word in enumerate(phrase.split()):
        options = [re.escape(each).replace(r"\*", r"\w*") for each in word.rstrip("?").split("/")]
        gap = r"[\s-]+" if place else ""
        one = f"({'|'.join(options)})"
        if word.endswith("?"):
            said += f"({gap}{one})?" if place else rf"({one}[\s-]+)?"
        else:
            said += (gap if said and not said.endswith("[\\s-]+)?") else "") + one
    return said
