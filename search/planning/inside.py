"""Which checks and repairs need the set opened, judged by the words of the note (see outside.toml)."""

import re
import tomllib
from collections.abc import Mapping, Sequence
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
    if inside or lists["places"].search(check):
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
    joined = {name: "|".join(phrases).replace(" ", r"[\s-]+") for name, phrases in lists.items()}
    return {name: re.compile(rf"\b({each})(?!\w)", re.IGNORECASE) for name, each in joined.items()}
