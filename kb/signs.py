"""How faults of each device show themselves: what technicians call a fault, and what owners say of it."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from kb.files import SomeTexts, Texts, read_records

BUILT_IN = Path(__file__).parent / "signs.toml"
_EXAMPLE = '[[fault]] with devices = ["LED TV"], names = ["panel cracked"], signs = ["black ink blot"]'


@dataclass(frozen=True, kw_only=True)
class Fault:
    """Hold one fault: devices that have it (none for any), its names, and its signs in an owner's words."""

    devices: Texts
    names: SomeTexts
    signs: SomeTexts


@cache
def load_faults(path: Path = BUILT_IN) -> tuple[Fault, ...]:
    """Return the faults of a file. Raises: NoteError naming file, line and remedy."""
    return read_records(path, "fault", Fault, example=_EXAMPLE, trusted=True)
