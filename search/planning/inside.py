"""Which checks and repairs need the set opened, judged by the words of the note (see outside.toml)."""

import re
import tomllib
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

_LISTS = tomllib.loads(Path(__file__).with_name("outside.toml").read_text(encoding="utf-8"))
_JOINED = {name: "|".join(phrases).replace(" ", r"[\s-]+") for name, phrases in _LISTS.items()}
_SAYS = {name: re.compile(rf"\b({each})(?!\w)", re.IGNORECASE) for name, each in _JOINED.items()}


@lru_cache(maxsize=10_000)  # a dozen patterns a check, and the same checks in every answer
def is_inside(check: str, board: str = "") -> bool:
    """Say whether a check needs the set opened, by its text and its board, which may be a "mains lead".

    False only where the words say that the set is closed, or name a check done from outside and no place
    inside. Anything unclear counts as inside.
    """
    inside = bool(_SAYS["inside"].search(check))
    if _SAYS["closed"].search(check) and not inside:
        return False
    if inside or _SAYS["places"].search(check):
        return True
    if _SAYS["visible_boards"].search(board) and _SAYS["look"].match(check):
        return False
    return not (_SAYS["outside"].search(check) or _SAYS["outside_boards"].search(board))


def fix_needs_opening(parts: Sequence[object], board: str) -> bool:
    """Say whether a repair needs the set opened: it took a part, and its board is not outside the set."""
    return bool(parts) and is_inside("", board)
