"""General knowledge of how faults show, matched by name to the causes of one notebook."""

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple, Self

import numpy as np

from kb.terms import Fault
from search.causes.known_faults import concept_of_device, known_faults, read_plainly
from search.causes.query_features import QueryFeatures, QueryMaker
from search.reading.concepts import ConceptFinder
from search.reading.plain_form import terms_of
from search.stats.arrays import BoolArray, FloatArray, IntArray

# All chosen by us on half of the blind complaints and the demo's history.
_NOT_ALIKE, _ALIKE = 0.2, 0.5  # of names; above the first a fault may be the cause, at the second it is
_SHARPNESS = 6.0  # how much the fault with the likest name is preferred to others
_SURE_AT_MOST = 0.9  # how surely a fault of the same name shows in the same ways
_SCALE = 50.0  # log odds between two faults per unit of likeness, in a very long complaint
_HALF = 8  # words and ideas of a complaint that counts half as much; "dead" alone says next to nothing
_WORDS = 0.3  # weight of the very words and ideas beside likeness
_KAPPA = 6.0  # average signs of all faults added to each fault's own
_SHARE_HELD = 0.02  # added to two shares that are compared, so that neither is 0
_WORDS_SHARED = 2  # words of the complaint that a sign must have, or mean, to be quoted
_LONGEST_QUOTED = 8  # words of a sign that may be quoted
_NEAR = 0.35  # likeness from which the complaint is taken to tell of a sign
_MOST_UNMET = 10  # faults looked at; fewer are shown
_DEVICES_KEPT = 32  # combinations of devices asked for last, about a megabyte each
_ROWS_KEPT = 1_024  # features of signs used last, 3 kB each
_READING = threading.Lock()  # reading takes seconds: one thread reads, the others wait for it


class Pairs(NamedTuple):
    """The pairs of a cause and a known fault that it may be.

    causes, which, sure: (pairs,) the cause, the fault, and how surely the cause is that fault. none:
    (n_causes,) how surely each cause is no known fault.
    """

    causes: IntArray
    which: IntArray
    sure: FloatArray
    none: FloatArray

    def with_faults(self, place: IntArray) -> Self:
        """Return the pairs with some of the faults. place: new place of each fault, -1 for those left out."""
        kept = place[self.which] >= 0
        causes, which, sure = self.causes[kept], place[self.which[kept]], self.sure[kept]
        total = np.zeros(len(self.none), sure.dtype)
        np.add.at(total, causes, sure)
        return type(self)(causes, which, sure, 1 - total)

    def of_causes(self, of_faults: FloatArray) -> FloatArray:
        """Average a figure of the faults, (n,), for each cause, 1 standing for no fault; (n_causes,)."""
        return self.none + np.bincount(self.causes, self.sure * of_faults[self.which], len(self.none))


class DeviceFaults(NamedTuple):
    """The n known faults that some devices can have; the causes of a notebook play no part.

    at: (n,) their places among all faults. signs: (n, width) features. sizes: (n,) number of names and signs
    of each.
    """

    at: IntArray
    faults: Sequence[Fault]
    signs: FloatArray
    sizes: IntArray


@lru_cache(maxsize=16_384)
def _terms(sign: str, finder: ConceptFinder) -> frozenset[str]:
    reading = read_plainly(sign, finder)
    return frozenset(terms_of(reading.tokens, reading.concepts))


@dataclass(frozen=True, kw_only=True, eq=False)
class FaultOdds:
    """How likely the known faults of some devices are for one complaint.

    odds: (n,) how many times as likely as an average fault each is. oftener: by term, how many times as often
    as on average the signs of each fault have it, (n,); only terms that some sign has.
    """

    signs: "FaultSigns"
    query: QueryFeatures
    of: DeviceFaults
    pairs: Pairs
    odds: FloatArray
    oftener: Mapping[str, FloatArray]

    @cached_property
    def of_causes(self) -> FloatArray:
        """How much likelier its signs make each cause, (n_causes,), nats; 0 for no known fault."""
        logs: FloatArray = np.log(self.pairs.of_causes(self.odds))
        return logs

    def oftener_in_causes(self, term: str) -> FloatArray | None:
        """How many times as often as usual each cause's signs have a term, (n_causes,); None if none does."""
        return self.pairs.of_causes(self.oftener[term]) if term in self.oftener else None

    def familiarity(self, known: BoolArray) -> float:
        """Return how much likelier signs make a known cause than a new one, nats; known: (n_causes,)."""
        met = self._met(known)
        share, usual = ((met @ self.odds) / len(met), met.mean()) if len(met) else (0.0, 0.0)
        return float(np.log((share + _SHARE_HELD) / (usual + _SHARE_HELD)))

    def unmet(self, known: BoolArray) -> list[tuple[Fault, float]]:
        """Return the likeliest faults that are no cause of the notebook, each with its chance among all such.

        known: (n_causes,). Faults whose name was denied are left out. Beside a blink count there are none, as
        signs say nothing of counts, and the words beside one say little.
        """
        if self.query.blinks is not None:
            return []
        left = self.odds * (1 - self._met(known))
        left /= max(float(left.sum()), 1e-300)
        denied = {each.term for each in self.query.denied_terms}
        likeliest = np.argsort(-left, kind="stable")[:_MOST_UNMET].tolist()
        named = [(self.of.faults[at], float(left[at])) for at in likeliest]
        finder = self.signs.finder
        return [each for each in named if denied.isdisjoint(_terms(each[0].names[0], finder))]

    def _met(self, known: BoolArray) -> FloatArray:
        """Return how surely each fault is a cause of the notebook, (n,); known: (n_causes,)."""
        sure = self.pairs.sure * known[self.pairs.causes]
        return np.minimum(np.bincount(self.pairs.which, sure, len(self.odds)), 1.0)

    def nearest_sign(self, cause: int) -> str:
        """Return the sign nearest to the complaint of the fault that a cause most likely is, "" for none.

        One shared word is not enough: "will not let go of the door" says nothing of a leak at the door. A
        long sign would read as if this owner had said it. Beside a blink count none is quoted: "one flash,
        then night" says nothing of three.
        """
        if self.query.blinks is not None:
            return ""
        own = np.flatnonzero(self.pairs.causes == cause)
        faults = self.pairs.which[own]
        near = {}
        likeliest = self.of.faults[int(faults[(self.pairs.sure[own] * self.odds[faults]).argmax()])]
        for sign in (each for each in likeliest.signs if len(each.split()) <= _LONGEST_QUOTED):
            terms = _terms(sign, self.signs.finder)
            words = {word for term in self.query.terms if term.term in terms for word in term.said.split()}
            if len(words) >= _WORDS_SHARED:
                sign_row = self.signs.row(sign)
                near[sign] = float(sign_row @ self.query.row[: len(sign_row)])
        nearest = max(near, key=near.__getitem__, default="")
        return nearest if near.get(nearest, 0.0) >= _NEAR else ""


class FaultSigns:
    """The known faults of a notebook's devices, and which causes they are. Safe between threads."""

    def __init__(
        self,
        met: FloatArray,
        names: FloatArray,
        devices: Sequence[str],
        maker: QueryMaker,
        finder: ConceptFinder,
        before: Self | None = None,
    ) -> None:
        """Take the causes of past cases; they are matched to faults at the first question.

        met: (n_causes, devices), 1 where a cause was met in a device, else 0. names: (n_causes, width)
        features of the causes' names. devices: names. before: the same for an earlier state, made with the
        same maker and finder.
        """
        self.finder, self._maker, self._names = finder, maker, names
        with _READING:
            self._known = known_faults(finder, maker.width, maker.meaning is not None)
        self._met, self.devices = met, devices
        self._of: dict[tuple[str, ...], DeviceFaults] = {}
        self._pairs: dict[tuple[str, ...], Pairs] = {}
        self.row = lru_cache(maxsize=_ROWS_KEPT)(
            lambda sign: maker.for_names.rows([read_plainly(sign, finder)])[0]
        )
        if before is not None and before._known is self._known:
            self._of, self.row = before._of, before.row

    def same_as(self, other: Self) -> bool:
        """Tell whether both hold the same faults and causes."""
        same = self._known is other._known and self._names is other._names
        return same and np.array_equal(self._met, other._met)

    @cached_property
    def _matched(self) -> Pairs:
        """The causes and the faults called alike; for each cause the `sure` sum to less than 1."""
        known = self._known
        alike = np.zeros((len(self._names), len(known.faults)))
        if alike.size:
            alike = np.maximum.reduceat(self._names @ known.names.T, known.starts, axis=1)
            alike[self._met @ known.of_devices(self.devices, self.finder) == 0] = 0
        best = alike.max(axis=1, initial=0)
        sure = _SURE_AT_MOST * np.clip((best - _NOT_ALIKE) / (_ALIKE - _NOT_ALIKE), 0, 1)
        share = np.where(alike > _NOT_ALIKE, (alike / np.maximum(best, _NOT_ALIKE)[:, None]) ** _SHARPNESS, 0)
        is_cause = share * (sure / np.maximum(share.sum(axis=1), 1))[:, None]
        causes, which = np.nonzero(is_cause)
        return Pairs(causes, which, is_cause[causes, which], 1 - is_cause.sum(axis=1))

    def odds(self, query: QueryFeatures, devices: Sequence[str]) -> FaultOdds:
        """Return the odds of the faults that some devices can have. devices: names, empty for any.

        A fault is the likelier, the more its signs are like the complaint and have its words (naive Bayes).
        """
        of, pairs = self._of_devices(tuple(devices))
        length = len(query.terms) ** 2
        parts = np.flatnonzero(query.row[: of.signs.shape[1]])  # of 4,352 features a complaint has about 300
        fit = _SCALE * length / (length + _HALF**2) * (of.signs[:, parts] @ query.row[parts])
        oftener = {
            term: (said / (said.sum() / of.sizes.sum()) + _KAPPA) / (of.sizes + _KAPPA)
            for term in {each.term for each in (*query.terms, *query.denied_terms)}
            if (said := self._known.times(term)[of.at]).any()
        }
        for term in query.terms:
            if term.term in oftener:
                fit += _WORDS * term.weight * np.log(oftener[term.term])
        chances = np.exp(fit - fit.max(initial=0.0))
        odds = chances / np.maximum(chances.mean(), 1e-300) if len(chances) else chances
        return FaultOdds(signs=self, query=query, of=of, pairs=pairs, odds=odds, oftener=oftener)

    def share_of_device(self, query: QueryFeatures, device: str) -> float:
        """Return the share of a device's faults in the odds of all faults, 0 to 1."""
        odds, (own,) = self.odds(query, []).odds, self._known.of_devices([device], self.finder)
        return float(odds[own].sum() / max(odds.sum(), 1e-300))

    def likelier_than(self, query: QueryFeatures, device: str) -> float:
        """Return how many times likelier another device is than this one, by signs; 0 if it has none."""
        odds = self.odds(query, []).odds
        of_devices = {name: float(odds[own].sum()) for name, own in self._faults_of.items()}
        own = of_devices.get(concept_of_device(device, self.finder), 0.0)
        return max(of_devices.values()) / own if own else 0.0

    @cached_property
    def _faults_of(self) -> dict[str, BoolArray]:
        """By device: which faults are its own, (faults,)."""
        names = sorted({name for each in self._known.faults for name in each.devices})
        masks = self._known.of_devices(names, self.finder)
        return {concept_of_device(name, self.finder): own for name, own in zip(names, masks, strict=True)}

    def _of_devices(self, devices: tuple[str, ...]) -> tuple[DeviceFaults, Pairs]:
        """Return the faults that some devices can have, and the causes they may be; kept for next time."""
        of, pairs = self._of.get(devices), self._pairs.get(devices)
        if of is None:
            known = self._known
            at, signs = np.arange(len(known.faults)), known.signs
            if devices:
                at = np.flatnonzero(known.of_devices(devices, self.finder).any(axis=0))
                signs = np.asfortranarray(known.signs[at])  # read by columns
            faults = [known.faults[each] for each in at.tolist()]
            of = DeviceFaults(
                at=at,
                faults=faults,
                signs=signs,
                sizes=np.array([len(each.names) + len(each.signs) for each in faults]),
            )
            self._of = {**dict(list(self._of.items())[1 - _DEVICES_KEPT :]), devices: of}
        if pairs is None:
            place = np.full(len(self._known.faults), -1)
            place[of.at] = np.arange(len(of.at))
            pairs = self._matched.with_faults(place)
            self._pairs = {**dict(list(self._pairs.items())[1 - _DEVICES_KEPT :]), devices: pairs}
        return of, pairs
