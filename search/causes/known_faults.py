"""The faults that devices are generally known for, and how each shows: read once, then kept on disk."""

import contextlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import accumulate
from math import prod
from pathlib import Path
from typing import Annotated

import numpy as np
from pydantic import Field, TypeAdapter

from kb.files import SomeTexts, cache_folder
from kb.terms import SIGNS, Fault, load_faults
from search import reading as read_words
from search.causes.checked_file import read_checked, write_checked
from search.causes.query_features import QueryMaker
from search.index.integrity import digest_of
from search.reading.concepts import ConceptFinder
from search.reading.plain_form import terms_of
from search.reading.reading import Reading
from search.reading.text import tokenise_quickly
from search.reading.vectors import load_meaning
from search.scoring import features
from search.stats.arrays import BoolArray, FloatArray, IntArray

_FILES_KEPT = 4  # one for each version and vocabulary, 13 MB each; chosen by us
_LARGEST_BYTES = 25_000_000  # of a kept file: twice what all faults take now
_Texts = tuple[str, ...]
_Counts = dict[str, Annotated[int, Field(gt=0, lt=2**16)]]
_KEPT = TypeAdapter(tuple[str, list[tuple[_Texts, SomeTexts, _Texts]], list[_Counts]])


@dataclass(frozen=True, eq=False)
class KnownFaults:
    """Faults, and the features of their names and signs.

    said: by fault, how often its names and signs have each term. names: (names, width), fault after fault;
    starts: where those of each fault begin. signs: (faults, width) from all names and signs of a fault,
    stored by columns.
    """

    faults: Sequence[Fault]
    said: Sequence[Mapping[str, int]]
    names: FloatArray
    signs: FloatArray

    @cached_property
    def _by_term(self) -> Mapping[str, IntArray]:
        """By term: the faults that have it, and how often each does; (2, those faults)."""
        found: defaultdict[str, list[tuple[int, int]]] = defaultdict(list)
        for at, said in enumerate(self.said):
            for term, often in said.items():
                found[term].append((at, often))
        return {term: np.array(pairs, np.uint16).T for term, pairs in found.items()}

    def times(self, term: str) -> IntArray:
        """Return how often the names and signs of each fault have a term, (faults,)."""
        times = np.zeros(len(self.faults), np.uint16)
        if term in self._by_term:
            which, often = self._by_term[term]
            times[which] = often
        return times

    @property
    def starts(self) -> list[int]:
        """Return where the names of each fault begin."""
        return [0, *accumulate(len(each.names) for each in self.faults)][:-1]

    def of_devices(self, devices: Iterable[str], finder: ConceptFinder) -> BoolArray:
        """Tell which faults each device can have, (devices, faults); one without its own: those of any."""
        own = [frozenset(concept_of_device(name, finder) for name in each.devices) for each in self.faults]
        known, told = frozenset().union(*own), [concept_of_device(name, finder) for name in devices]
        can = [[name in each or not (each or name in known) for each in own] for name in told]
        return np.array(can, np.bool_).reshape(len(can), len(own))


@lru_cache(maxsize=2)  # the same for every notebook of a process
def known_faults(finder: ConceptFinder, width: int, with_meaning: bool) -> KnownFaults:
    """Return the known faults of devices. The file is shared by all notebooks of this user.

    width: hash buckets of the features.
    """
    made_by = _made_by(finder, width, with_meaning)
    path = cache_folder() / f"signs-{made_by[:16]}.model"
    known = _read_kept(path, made_by, _maker(width, with_meaning).columns)
    if known is None:
        known = _read(finder, width, with_meaning)
        _keep(path, made_by, known)
    return known


def _read(finder: ConceptFinder, width: int, with_meaning: bool) -> KnownFaults:
    faults, maker = load_faults(), _maker(width, with_meaning)
    shown = [read_plainly(". ".join((*each.names, *each.signs)), finder) for each in faults]
    names = [read_plainly(name, finder) for each in faults for name in each.names]
    return KnownFaults(
        faults=list(faults),
        said=[Counter(terms_of(each.tokens, each.concepts)) for each in shown],
        names=maker.rows(names),
        signs=np.asfortranarray(maker.rows(shown)),
    )


def _maker(width: int, with_meaning: bool) -> QueryMaker:
    return QueryMaker(width=width, meaning=load_meaning() if with_meaning else None)


def read_plainly(text: str, finder: ConceptFinder) -> Reading:
    """Read a text as if nothing were denied or misspelt, which takes a fifth of the time of a complaint."""
    tokens = tokenise_quickly(text)
    ideas = tuple(finder.concepts(tokens))
    return Reading(text=text, tokens=tuple(tokens), concepts=ideas, evidence_text=text)


@lru_cache(maxsize=1_024)  # a few hundred names of devices are all there are
def concept_of_device(device: str, finder: ConceptFinder) -> str:
    """Return the vocabulary's name of a device."""
    return finder.concept_of(device, "device") or device.casefold()


def _made_by(finder: ConceptFinder, width: int, with_meaning: bool) -> str:
    """Return the digest of all that features depend on: the words, and the code that reads them."""
    folders = {Path(read_words.__file__).parent, Path(features.__file__).parent}
    files = [path for folder in folders for path in folder.iterdir() if path.suffix in (".py", ".toml")]
    read = [digest_of(path.read_bytes()) for path in (SIGNS, Path(__file__), *sorted(files))]
    return digest_of(repr((read, finder.vocabulary.terms, width, with_meaning)).encode())


def _keep(path: Path, made_by: str, known: KnownFaults) -> None:
    """Write faults to a file: a line of JSON, a bit for each feature that is not 0, those features."""
    texts = [(each.devices, each.names, each.signs) for each in known.faults]
    rows = np.concatenate([known.names, known.signs])
    bits, values = np.packbits(rows != 0), rows[rows != 0]  # of 4,352 features a name has some 270
    head = [made_by, texts, known.said]
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_checked(path, head, bits.tobytes() + values.tobytes())
        kept = sorted(path.parent.glob("signs-*.model"), key=lambda each: each.stat().st_mtime)
        for old in kept[:-_FILES_KEPT]:
            old.unlink(missing_ok=True)


def _read_kept(path: Path, made_by: str, columns: int) -> KnownFaults | None:
    """Return the faults kept in a file; None when it is missing, damaged, or made from anything else."""
    try:
        head, numbers = read_checked(path, most=_LARGEST_BYTES)
        kept_by, texts, said = _KEPT.validate_json(head)
        if kept_by != made_by:
            return None
        faults = [Fault(devices=devices, names=names, signs=signs) for devices, names, signs in texts]
        named = sum(len(each.names) for each in faults)
        shape = named + len(faults), columns
        bits = np.frombuffer(numbers, np.uint8, -(-prod(shape) // 8))
        met = np.unpackbits(bits, count=prod(shape)).reshape(shape).astype(np.bool_)
        values, split = np.frombuffer(numbers, np.float32, offset=len(bits)), np.count_nonzero(met[:named])
        names, signs = np.zeros_like(met[:named], np.float32), np.zeros_like(met[named:], np.float32, "F")
        names[met[:named]], signs[met[named:]] = values[:split], values[split:]
    except Exception:
        # A file of another version, or made to do harm, can fail in any way: the faults are read again.
        return None
    return KnownFaults(faults, said, names, signs)
