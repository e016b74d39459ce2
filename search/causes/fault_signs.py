"""What is generally known of how faults show, matched to the causes of one notebook by their names."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache, partial
from itertools import accumulate
from typing import NamedTuple

import numpy as np

from kb.terms import Fault, load_faults
from search.causes.past_cases import PastCases
from search.causes.query_features import QueryFeatures, QueryMaker
from search.reading.concepts import ConceptFinder, terms_of
from search.reading.reading import Reading
from search.reading.text import tokenise_quickly
from search.reading.vectors import load_meaning
from search.stats.arrays import BoolArray, FloatArray, IntArray

# All chosen by us on half of the blind complaints and the demo's history.
_NOT_ALIKE, _ALIKE = 0.2, 0.5  # likeness of names from which a fault may be a cause, and from which it is
_SHARPNESS = 6.0  # how much the likest of several faults is preferred
_SURE_AT_MOST = 0.9  # that a fault of the same name shows in the same ways
_SCALE = 50.0  # log odds of one fault against another for likeness of signs 1, in a very long complaint
_HALF = 8  # words and ideas of a complaint that tells half as much; "dead" alone tells next to nothing
_WORDS = 0.3  # what words and ideas count for beside that
_KAPPA = 6.0  # signs of all faults that a fault's own are shrunk with
_SHARE_HELD = 0.05  # share of the faults that is never held for known or unknown
_WORDS_SHARED = 2  # words of a complaint that a sign must have, or mean, to be named
_NEAR = 0.35  # likeness from which an owner may be said to have told of a sign
_ROWS_KEPT = 1_024  # features of signs met lately, 3 kB each


class _Known(NamedTuple):
    """Faults and the features of their names.

    names: (names, width), those of each fault one after another; starts: where they begin. of_device:
    (devices + 1, faults) which each device can have, the last for any.
    """

    faults: Sequence[Fault]
    names: FloatArray
    starts: Sequence[int]
    of_device: BoolArray


@lru_cache(maxsize=2)
def _known_faults(finder: ConceptFinder, width: int, with_meaning: bool, devices: tuple[str, ...]) -> _Known:
    """Read the faults of some devices; those of any device serve where none is known of it."""
    every = [(each, _concepts(each.devices, finder)) for each in load_faults()]
    met = _concepts(devices, finder)
    without = met - frozenset().union(*(own for _, own in every))
    known = [(fault, own or without) for fault, own in every if met & (own or without)]
    faults = [fault for fault, _ in known]
    own_of = [[bool(own & _concepts([name], finder)) for _, own in known] for name in devices]
    names = [read_plainly(name, finder) for each in faults for name in each.names]
    return _Known(
        faults=faults,
        names=_maker(width, with_meaning).rows(names),
        starts=[0, *accumulate(len(each.names) for each in faults)][:-1],
        of_device=np.array([*own_of, [True] * len(faults)], np.bool_),
    )


@lru_cache(maxsize=2_048)  # all there are
def _shown(
    fault: Fault, finder: ConceptFinder, width: int, with_meaning: bool
) -> tuple[FloatArray, Counter[str]]:
    """Return the features of a fault's names and signs, (width,), and how often they have each term."""
    reading = read_plainly(". ".join((*fault.names, *fault.signs)), finder)
    terms = terms_of(reading.tokens, reading.concepts)
    return _maker(width, with_meaning).rows([reading])[0], Counter(terms)


def _maker(width: int, with_meaning: bool) -> QueryMaker:
    return QueryMaker(width=width, meaning=load_meaning() if with_meaning else None)


class CauseFaults(NamedTuple):
    """Which of n faults causes are: few each, so only those are kept.

    causes, faults, sure: (pairs,) what is which, by their numbers, and how surely. none: (n_causes,) how
    surely each cause is none of the faults.
    """

    causes: IntArray
    faults: IntArray
    sure: FloatArray
    none: FloatArray

    def of_causes(self, of_faults: FloatArray) -> FloatArray:
        """Return a figure of the faults, (n,), for each cause, 1 for one that is no fault; (n_causes,)."""
        return self.none + np.bincount(self.causes, self.sure * of_faults[self.faults], len(self.none))


class _OfDevices(NamedTuple):
    """The n faults that some devices can have.

    signs: (n, width) features. said: how often the names and signs of each have a word or an idea, (n,), by
    its term. sizes: (n,) how many names and signs each has.
    """

    faults: Sequence[Fault]
    signs: FloatArray
    said: Mapping[str, IntArray]
    sizes: IntArray
    pairs: CauseFaults


@lru_cache(maxsize=4096)
def _terms(sign: str, finder: ConceptFinder) -> frozenset[str]:
    reading = read_plainly(sign, finder)
    return frozenset(terms_of(reading.tokens, reading.concepts))


def read_plainly(text: str, finder: ConceptFinder) -> Reading:
    """Read a text without asking what is denied or misspelt: in a fifth of the time of a complaint."""
    tokens = tokenise_quickly(text)
    ideas = tuple(finder.concepts(tokens))
    return Reading(text=text, tokens=tuple(tokens), concepts=ideas, evidence_text=text)


def _concepts(devices: Iterable[str], finder: ConceptFinder) -> frozenset[str]:
    return frozenset(finder.concept_of(name, "device") or name.casefold() for name in devices)


@dataclass(frozen=True, eq=False)
class FaultOdds:
    """How likely one complaint makes the known faults of some devices.

    odds: (n,) how much likelier than on average each is. oftener: how many times as often as on average the
    signs of each have a term, (n,), by the terms that any has. sign: gives the nearest sign of one.
    """

    odds: FloatArray
    pairs: CauseFaults
    oftener: Mapping[str, FloatArray]
    sign: Callable[[int], str]

    @cached_property
    def of_causes(self) -> FloatArray:
        """How much likelier signs make each cause, (n_causes,), nats; 0 for one of no known fault."""
        logs: FloatArray = np.log(self.pairs.of_causes(self.odds))
        return logs

    def oftener_in_causes(self, term: str) -> FloatArray | None:
        """How many times as often as usual each cause's signs have a term, (n_causes,); None if none has."""
        return self.pairs.of_causes(self.oftener[term]) if term in self.oftener else None

    def familiarity(self, known: BoolArray) -> float:
        """Return how much likelier signs make it that the cause is a known one, nats; known: (n_causes,)."""
        pairs = self.pairs
        met = np.minimum(np.bincount(pairs.faults, pairs.sure * known[pairs.causes], len(self.odds)), 1.0)
        share, usual = ((met @ self.odds) / len(met), met.mean()) if len(met) else (0.0, 0.0)
        return float(np.log((share + _SHARE_HELD) / (usual + _SHARE_HELD)))

    def nearest_sign(self, cause: int) -> str:
        """Return the sign nearest to the complaint, of the fault that a cause most likely is, "" for none."""
        own = np.flatnonzero(self.pairs.causes == cause)
        faults = self.pairs.faults[own]
        return self.sign(int(faults[(self.pairs.sure[own] * self.odds[faults]).argmax()]))


class FaultSigns:
    """The faults of a notebook's devices, and which of its causes they are. Safe between threads."""

    def __init__(
        self,
        known: _Known,
        causes: tuple[FloatArray, FloatArray],
        is_cause: FloatArray,
        maker: QueryMaker,
        finder: ConceptFinder,
    ) -> None:
        """Take the faults; is_cause: (n_causes, faults) how surely a cause is each; rows sum to below 1.

        causes: what that follows from (see match_faults): the features of their names, and their devices.
        """
        self._known, self._causes, self._is_cause = known, causes, is_cause
        self._maker, self._finder = maker, finder
        self._of: dict[tuple[int, ...], _OfDevices] = {}
        self._row = lru_cache(maxsize=_ROWS_KEPT)(lambda sign: maker.rows([read_plainly(sign, finder)])[0])

    def serve(self, known: _Known, names: FloatArray, met: FloatArray) -> bool:
        """Tell whether they are those of some faults and causes; names, met: see match_faults."""
        return self._known is known and self._causes[0] is names and np.array_equal(self._causes[1], met)

    def odds(self, query: QueryFeatures, devices: Sequence[int]) -> FaultOdds:
        """Return the odds of the faults that some devices can have. devices: their codes, none for any.

        The more its signs are like the complaint and have its very words (naive Bayes), the likelier a fault.
        """
        of = self._of_devices(tuple(devices))
        said_in_all = len(query.terms) ** 2
        fit = _SCALE * said_in_all / (said_in_all + _HALF**2) * (of.signs @ query.row)
        oftener: dict[str, FloatArray] = {}
        for term in (*query.terms, *query.denied_terms):
            if (said := of.said.get(term.term)) is not None:
                usual = said.sum() / of.sizes.sum()
                oftener[term.term] = (said / usual + _KAPPA) / (of.sizes + _KAPPA)
        for term in query.terms:
            if term.term in oftener:
                fit += _WORDS * term.weight * np.log(oftener[term.term])
        chances = np.exp(fit - fit.max(initial=0.0))
        odds = chances / np.maximum(chances.mean(), 1e-300) if len(chances) else chances
        return FaultOdds(odds, of.pairs, oftener, partial(self._nearest_sign, query, of.faults))

    def _of_devices(self, devices: tuple[int, ...]) -> _OfDevices:
        """Return the faults that some devices can have, read when they are first asked for."""
        if devices not in self._of:
            chosen = np.flatnonzero(self._known.of_device[[*devices] or [-1]].any(axis=0)).tolist()
            faults, is_cause = [self._known.faults[at] for at in chosen], self._is_cause[:, chosen]
            causes, which = np.nonzero(is_cause)
            width, with_meaning = self._maker.width, self._maker.meaning is not None
            shown = [_shown(fault, self._finder, width, with_meaning) for fault in faults]
            said: dict[str, IntArray] = {}
            for at, (_, terms) in enumerate(shown):
                for term, times in terms.items():
                    said.setdefault(term, np.zeros(len(faults), np.uint16))[at] = times
            self._of[devices] = _OfDevices(
                faults=faults,
                signs=np.array([row for row, _ in shown]).reshape(len(faults), self._maker.columns),
                said=said,
                sizes=np.array([len(each.names) + len(each.signs) for each in faults]),
                pairs=CauseFaults(causes, which, is_cause[causes, which], 1 - is_cause.sum(axis=1)),
            )
        return self._of[devices]

    def _nearest_sign(self, query: QueryFeatures, faults: Sequence[Fault], likely: int) -> str:
        """Return the sign of one of some faults that is nearest to a complaint, "" if none is.

        One shared word makes no sign: "will not let go of the door" says nothing of a leak at the door.
        """
        told = []
        for sign in faults[likely].signs:
            own = _terms(sign, self._finder)
            words = {word for term in query.terms if term.term in own for word in term.said.split()}
            told += [sign] if len(words) >= _WORDS_SHARED else []
        near = [float(self._row(sign) @ query.row) for sign in told]
        return told[near.index(max(near))] if max(near, default=0.0) >= _NEAR else ""


def match_faults(
    cases: PastCases,
    names: FloatArray,
    devices: Sequence[str],
    maker: QueryMaker,
    finder: ConceptFinder,
    *,
    before: FaultSigns | None = None,
) -> FaultSigns:
    """Match the causes of past cases to the faults of their devices that are called alike.

    names: (n_causes, width) features of the causes' names. devices: names of the devices by their codes.
    before: those of an earlier state, which serve again where causes and devices are the same.
    """
    known = _known_faults(finder, maker.width, maker.meaning is not None, tuple(devices))
    met = np.zeros((cases.n_causes + 1, len(devices) + 1), np.float32)
    met[cases.cause, cases.device] = 1
    if before is not None and before.serve(known, names, met):
        return before
    alike = np.zeros((cases.n_causes, len(known.faults)))
    if alike.size:
        alike = np.maximum.reduceat(names @ known.names.T, known.starts, axis=1)
        alike[met[:-1, :-1] @ known.of_device[:-1] == 0] = 0
    best = alike.max(axis=1, initial=0)
    sure = _SURE_AT_MOST * np.clip((best - _NOT_ALIKE) / (_ALIKE - _NOT_ALIKE), 0, 1)
    share = np.where(alike > _NOT_ALIKE, (alike / np.maximum(best, _NOT_ALIKE)[:, None]) ** _SHARPNESS, 0)
    is_cause = share * (sure / np.maximum(share.sum(axis=1), 1))[:, None]
    return FaultSigns(known, (names, met), is_cause, maker, finder)
