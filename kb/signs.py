"""How faults of each device show themselves: what technicians call a fault, and what owners say of it."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from kb.errors import NoteError, quoted
from kb.toml_files import read_toml

BUILT_IN = Path(__file__).parent / "signs.toml"
_KEYS = ("devices", "names", "signs")
_EXAMPLE = '[[fault]] with devices = ["LED TV"], names = ["panel cracked"], signs = ["black ink blot"]'


@dataclass(frozen=True, kw_only=True)
class Fault:
    """Hold one fault: devices that have it (none for any), its names, and its signs in an owner's words."""

    devices: tuple[str, ...]
    names: tuple[str, ...]
    signs: tuple[str, ...]


@cache
def load_faults(path: Path = BUILT_IN) -> tuple[Fault, ...]:
    """Return the faults of a file. Raises: NoteError naming file, line and remedy."""
    file = read_toml(path, example=_EXAMPLE, trusted=True)
    for number, fault in enumerate(file.values.get("fault", ()), start=1):
        for key in {*_KEYS, *fault}:
            texts = fault.get(key)
            listed = isinstance(texts, list) and all(isinstance(each, str) and each.strip() for each in texts)
            if key not in _KEYS or not listed or not (texts or key == "devices"):
                raise NoteError([file.problem(f"fault {number}, {key}", quoted(texts), f"write {_EXAMPLE}")])
    return tuple(Fault(**{key: tuple(fault[key]) for key in _KEYS}) for fault in file.values.get("fault", ()))
