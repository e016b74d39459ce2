"""One complaint compared with the past cases: the figures from which opinions are worked out."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from kb.terms import Fault
from search.causes.blink_likelihood import blink_likelihood, blink_likelihoods
from search.causes.fault_signs import FaultOdds, FaultSigns
from search.causes.linear import log_softmax
from search.causes.past_cases import PastCases
from search.causes.priors import backed_off_shares
from search.causes.query_features import QueryFeatures
from search.index.postings import PostingCache, PostingSource
from search.scoring.bm25f import Collection
from search.scoring.similarity import MeaningSpace, word_similarity
from search.stats.arrays import BoolArray, FloatArray

FLOOR = 1e-12
# All chosen by us. A kappa is how many cases a wider share is worth when a narrower one is shrunk towards it.
KAPPA = 8.0  # share in a neighbourhood, towards the one around it
_DEVICE_KAPPA = 1.0  # share in a device, towards all others: low, as a television is never a microwave
_BLINK_KAPPA = 1.0  # blink records of a cause, towards those of the whole notebook
MEANING_SHARE = 0.3  # share of meaning in similarity; words have the rest
_OTHER_FAMILY = 0.3  # weight of a blink record of another family
_UNRECORDED = 0.5  # weight of a missing blink record as evidence against blinking
_APART = 0.25  # likelihood of a cause unlike the sheet's meaning; the likest one has 1 more
_NEAR_AT_ALL = 0.1  # the sheet's meaning counts only if the likest cause is at least so similar
_KIN = 0.1  # typical cosine between two cases of one cause; from the open sets of two labelled lists
# A single word sways all opinions together, so with few words and few cases they count less. With one case
# for each cause they count half at about three words, the root of this. From the demo's symptoms, each asked
# alone.
_SWAYED_ALIKE = 10.0
# Both of votes; tests/search/causes/test_odds.py notices when they change.
TAU = 0.08  # how quickly a vote falls with similarity
_SAME_MAKE_AND_DEVICE, _SAME_DEVICE, _SAME_MAKE, _OTHER = 0.4, 0.25, 0.02, 0.01
_FIELD = "complaint"


class UsableCases:
    """The past cases that may be used, each with a cause, and what follows from them whatever the complaint.

    usable: (size,). evidence: (size,) how much each says of its cause, 0 for cases that may not be used.
    of_cause, counts: (n_causes,) the number of cases of each cause, and the sum of their evidence. known:
    (n_causes,) causes with a case. per_cause: average cases of a cause. collection: the words of these cases.
    alone: (size,) whether a case is the only one of its cause.
    """

    def __init__(self, cases: PastCases, source: PostingSource, usable: BoolArray) -> None:
        """Count the past cases of a mask, (size,)."""
        self.usable, self._cases, self._source = usable, cases, source
        self.evidence = np.where(usable, cases.evidence, 0.0)
        self.of_cause, self.counts = cases.sums(usable), cases.sums(self.evidence)
        self.known: BoolArray = self.of_cause > 0
        self.per_cause = max(1.0, float(self.of_cause.sum()) / max(1, int(np.count_nonzero(self.known))))
        self.alone: BoolArray = usable & np.append(self.of_cause == 1, False)[cases.bucket]
        self.collection = Collection(source, usable)
        self._having: PostingCache[str, tuple[FloatArray]] = PostingCache(source.cache_mb / 12)

    def evidence_with(self, term: str) -> FloatArray:
        """Return the evidence of the cases of each cause that have a term in their complaint; (n_causes,)."""

        def sums() -> tuple[FloatArray]:
            rows, _ = self._source.postings(_FIELD, term)
            sums = np.bincount(self._cases.bucket[rows], self.evidence[rows], self._cases.n_causes + 1)
            return (sums[:-1].astype(np.float32),)  # exact, as evidence is 1 or a half

        return self._having.fetch(term, sums)[0].astype(np.float64)


@dataclass(frozen=True, kw_only=True, eq=False)
class Corpus:
    """Past cases, prepared so that complaints can be compared with them.

    space: None for words alone. names: returns the features of the causes' names, (n_causes, width). signs:
    returns the known faults that the causes are. Both are functions, as few complaints need them.
    """

    cases: PastCases
    source: PostingSource
    space: MeaningSpace | None
    names: Callable[[], FloatArray] | None = None
    signs: Callable[[], FaultSigns] | None = None
    _last: list[UsableCases] = field(default_factory=list, repr=False)

    def usable_cases(self, usable: BoolArray) -> UsableCases:
        """Return the cases of a mask, (size,). The last result is kept, as most complaints use one mask."""
        last = next(iter(self._last), None)
        if last is None or last.usable is not usable:
            usable.flags.writeable = False  # if changed in place, the kept result would be wrong
            last = UsableCases(self.cases, self.source, usable)
            self._last[:] = [last]
        return last


class ComplaintContext:
    """One complaint and the usable past cases. Each figure is worked out once, when needed."""

    def __init__(
        self, corpus: Corpus, query: QueryFeatures, usable: BoolArray, linear: Mapping[str, FloatArray]
    ) -> None:
        """Take a complaint, the cases that may be used, (size,), and learned opinions' scores by name."""
        self.corpus, self.cases, self.query, self.linear = corpus, corpus.cases, query, linear
        cases = corpus.usable_cases(usable)
        self.usable, self.usable_cases = usable, cases
        self.evidence, self.counts, self.known = cases.evidence, cases.counts, cases.known

    @cached_property
    def word_similarity(self) -> FloatArray:
        """How alike each case is in words, 0 to 1; (size,)."""
        return word_similarity(self.query.terms, self.usable_cases.collection)

    @cached_property
    def meaning_similarity(self) -> FloatArray | None:
        """How alike each case is in meaning, as a cosine, (size,); None for words alone."""
        if self.corpus.space is None or self.query.vector is None:
            return None
        return self.corpus.space.cosine_similarity(self.query.vector)

    @cached_property
    def similarity(self) -> FloatArray:
        """Words and meaning on one scale, 0 to 1; (size,); all 1 where no word was said."""
        if not self.query.terms:
            return np.ones(self.cases.size, np.float32)
        if self.meaning_similarity is None:
            return self.word_similarity
        meaning = np.maximum(self.meaning_similarity, 0)
        joined: FloatArray = (1 - MEANING_SHARE) * self.word_similarity + MEANING_SHARE * meaning
        return joined

    @cached_property
    def case_votes(self) -> FloatArray:
        """How much each case votes for its cause, by similarity, blinks, set and evidence; (size,)."""
        votes: FloatArray = np.exp((self.similarity - np.float32(1.0)) * np.float32(1 / TAU))
        votes *= self.evidence
        votes *= self.blink_fit
        votes *= self._nearness
        return votes

    @property
    def _nearness(self) -> FloatArray:
        """How much a case counts for its family, make and device; (size,), or one value for all."""
        cases, query = self.cases, self.query
        device = (cases.device == self.device) if self.device >= 0 else np.True_
        make = (cases.make == query.make) if query.make != -1 else np.True_
        worth = np.array([_OTHER, _SAME_MAKE, _SAME_DEVICE, _SAME_MAKE_AND_DEVICE], np.float32)
        near: FloatArray = worth.take(2 * np.asarray(device, np.int8) + make)
        return near if query.family == -1 else np.where(cases.family == query.family, np.float32(1.0), near)

    @cached_property
    def votes(self) -> FloatArray:
        """The sum of the votes for each cause; (n_causes,)."""
        return self.cases.sums(self.case_votes)

    @cached_property
    def cause_support(self) -> FloatArray:
        """The similarity that a single case would need for as many votes as each cause has; (n_causes,)."""
        support: FloatArray = np.maximum(1 + TAU * np.log(np.maximum(self.votes, FLOOR)), 0.0)
        return support

    def shares_with(self, term: str, kappa: float) -> tuple[FloatArray, float]:
        """Return the share of each cause's cases that have a term, (n_causes,), and that of all cases.

        kappa: imagined cases added to each cause. They have the term as often as all cases do, or as much
        more often as the cause's signs have it. A term of no case counts as hardly ever met.
        """
        having = self.usable_cases.evidence_with(term)
        anywhere = float(having.sum()) / max(float(self.counts.sum()), FLOOR)
        oftener = None if self.fault_odds is None else self.fault_odds.oftener_in_causes(term)
        if oftener is None:
            return (having + kappa * anywhere) / (self.counts + kappa), anywhere
        anywhere = max(anywhere, FLOOR)
        return (having + kappa * np.minimum(anywhere * oftener, 1.0)) / (self.counts + kappa), anywhere

    @cached_property
    def cause_meaning(self) -> FloatArray:
        """How alike the complaint is in meaning to the mean of each cause's cases, 0 to 1; (n_causes,).

        The sum of n unit vectors with cosine r to each other has the length sqrt(n (1 + (n - 1) r)). So the
        cosine with the mean follows from the cosines with the cases, and no mean has to be kept.
        """
        if self.meaning_similarity is None:
            return np.zeros(self.cases.n_causes)
        sums, n = self.cases.sums(self.meaning_similarity * self.usable), self.usable_cases.of_cause
        likeness: FloatArray = np.clip(sums / np.sqrt(np.maximum(n * (1 + (n - 1) * _KIN), 1)), 0, 1)
        return likeness

    @cached_property
    def shares(self) -> list[FloatArray]:
        """The shares of the causes in ever nearer sets, each shrunk towards the one before; (n_causes,)."""
        near = [self.cases.sums(self.evidence * each) for each in self.neighbourhoods]
        kappas = [_DEVICE_KAPPA if self.device >= 0 else KAPPA, KAPPA, KAPPA]
        return [
            backed_off_shares([self.counts, *near[:depth]], kappas=kappas[:depth], known=self.known)
            for depth in range(len(near) + 1)
        ]

    @property
    def device_shares(self) -> FloatArray:
        """The shares of the causes in sets of the device, where it is known; (n_causes,)."""
        return self.shares[1 if self.device >= 0 else 0]

    @cached_property
    def device(self) -> int:
        """The code of the device that was said, else of the family's device; -1 when not known."""
        cases, query = self.cases, self.query
        found = query.device
        if found == -1 and query.family >= 0:
            codes = cases.device[self.usable & (cases.family == query.family)]
            codes = codes[codes >= 0]
            found = int(np.bincount(codes).argmax()) if len(codes) else -1
        return found if found >= 0 and bool((self.usable & (cases.device == found)).any()) else -1

    @cached_property
    def telling(self) -> float:
        """How much opinions from cases count, 0 to 1: less where few words meet few cases."""
        words = len(self.query.terms) ** 2
        return words / (words + _SWAYED_ALIKE / self.usable_cases.per_cause) if words else 1.0

    @cached_property
    def fault_odds(self) -> FaultOdds | None:
        """The odds of the known faults of such sets; None without words or without signs."""
        if self.corpus.signs is None or not self.query.terms:
            return None
        signs = self.corpus.signs()
        return signs.odds(self.query, [signs.devices[self.device]] if self.device >= 0 else [])

    def faults_unmet(self, device: str) -> list[tuple[Fault, float]]:
        """Return known faults of such sets that no case here had, the likeliest first.

        Each comes with its chance if the cause is a new one. device: as it was said, "" for none.
        """
        found = self.fault_odds
        if found is not None and device and self.device < 0:
            found = found.signs.odds(self.query, [device])
        return [] if found is None else found.unmet(self.known)

    @cached_property
    def neighbourhoods(self) -> list[BoolArray]:
        """The cases of the set's device, of its device and make, of its family; (size,) each."""
        cases, query = self.cases, self.query
        near, found = np.True_, []
        for codes, said in ((cases.device, self.device), (cases.make, query.make)):
            if said >= 0:
                near = near & (codes == said)
                found.append(near)
        if query.family >= 0:
            found.append(cases.family == query.family)
        return found

    @cached_property
    def blink_fit(self) -> FloatArray:
        """How likely each case's owner would say these blinks; (size,), or 1 when none were said."""
        if self.query.blinks is None:
            return np.ones(1, np.float32)
        return blink_likelihoods(self.cases.blink_code, self.cases.blink_patterns, self.query.blinks)

    @cached_property
    def blink_logs(self) -> FloatArray:
        """The logarithm of how likely each cause shows the blinks that were said; (n_causes,)."""
        if self.query.blinks is None:
            return np.zeros(self.cases.n_causes)
        family = self.query.family
        near = np.where((self.cases.family == family) | (family < 0), 1.0, _OTHER_FAMILY)
        recorded = np.where(self.cases.blink_code >= 0, self.evidence * near, 0.0)
        fitting = self.cases.sums(recorded * self.blink_fit)
        count = self.cases.sums(np.where(recorded > 0, recorded, _UNRECORDED * self.evidence))
        anywhere = (fitting.sum() + 0.05) / (count.sum() + 1.0)
        logs: FloatArray = np.log((fitting + _BLINK_KAPPA * anywhere) / (count + _BLINK_KAPPA))
        return logs

    @cached_property
    def sheet_logs(self) -> FloatArray:
        """How well each cause's name fits what the service sheet says of the blinks; (n_causes,), nats."""
        said, names, fit = self.query.blinks, self.corpus.names, np.zeros(self.cases.n_causes)
        if said is None or names is None or not self.known.any():
            return fit
        for pattern, row in self.query.sheet:
            near = names() @ row
            best, middle = float(near[self.known].max()), float(np.median(near[self.known]))
            if best > max(middle, _NEAR_AT_ALL):
                share = np.clip((near - middle) / (best - middle), 0, 1)
                fit = fit + blink_likelihood(pattern, said) * share
        logs: FloatArray = np.log(_APART + fit)
        return logs

    @cached_property
    def log_prior(self) -> FloatArray:
        """The logarithm of each cause's probability from the set and its blinks alone; (n_causes,)."""
        logs = np.log(np.maximum(self.shares[-1], FLOOR)) + self.blink_logs + self.sheet_logs
        return log_softmax(np.where(self.known, logs, -np.inf))
