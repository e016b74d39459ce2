"""Case numbers: the day of the repair and four random characters."""

import datetime
import re
import secrets
from collections.abc import Callable

# Crockford's base32 leaves out i, l, o and u, which are misread on a label. https://www.crockford.com/base32.html
ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"

_CASE_ID = re.compile(rf"[0-9]{{8}}-[{ALPHABET}]{{4}}")
_TRIES = 1_000  # a day would need about a million cases before so many draws all hit taken numbers


def new_case_id(date: datetime.date, is_taken: Callable[[str], bool]) -> str:
    """Return a number for this day that is not taken, one of 32**4. Raises: RuntimeError when it is full."""
    for _ in range(_TRIES):
        candidate = f"{date:%Y%m%d}-" + "".join(secrets.choice(ALPHABET) for _ in range(4))
        if not is_taken(candidate):
            return candidate
    raise RuntimeError(f"no free case number is left for {date.isoformat()}")


def is_case_id(text: str) -> bool:
    """Tell whether a text is a case number such as 20260318-k7f2 (a real date, then Crockford base32)."""
    try:
        return bool(_CASE_ID.fullmatch(text) and datetime.date.fromisoformat(text[:8]))
    except ValueError:
        return False
