"""What each opinion says of the causes for one complaint, and how they are joined.

Eight opinions are joined on a logarithmic scale (see search/learning.py for how their say is fitted):

- logistic: a model of the causes on the words and the meaning of past complaints, in which every past case
  adds to its own cause and takes from the others in proportion to its likeness to the complaint;
- means: every past case adds to its own cause alone, its likeness seen against how complaints of one cause
  usually differ;
- words: how often the cause's cases have the very words of the complaint;
- vote: past cases vote for their cause, each with w = exp((likeness - 1) / tau) * blinks * family * age;
- shares: how common the causes are in the whole notebook (where the logistic model does not say it);
- device: their shares in sets of the device, against those in the whole notebook;
- family: their shares in the family said, against those in the device;
- blinks: how likely the cause shows the blinks that were said.

Logistic, means and vote, which a single word can make very sure, count for less when little was said. All
opinions rise, or stay, for a cause when one of its cases becomes more like the complaint, and so does their
product. The chance that the cause is not in the notebook yet comes from Good-Turing and falls with likeness.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from search.causes.blink_likelihood import blink_likelihoods
from search.causes.fitting import log_softmax
from search.causes.past_cases import Asked, PastCases
from search.causes.priors import backed_off_shares, new_share
from search.stats.arrays import BoolArray, FloatArray

OPINIONS = ("logistic", "means", "words", "vote", "shares", "device", "family", "blinks")

FLATTENED = np.array(
    [1.0, 1.0, 0.0, 0.5, 0.0, 0.0, 0.0, 0.0]
)  # whether "dead" alone makes an opinion too sure
NEW_FLAT = 0.5  # the same for how new a complaint looks

# Chosen by us; tests/search/test_causes.py notices when they change.
_SAME_MAKE_AND_DEVICE, _SAME_DEVICE, _SAME_MAKE, _OTHER = 0.4, 0.25, 0.02, 0.01
_DEVICE_KAPPA = 1.0  # cases of a device that all other devices are worth: a television is never a microwave
_OTHER_DEVICES = 0.02  # share of repairs whose cause was met before, but never in the device
_HALF_LIFE_DAYS = 3650.0  # after ten years a case counts half: sets change, faults of a family hardly do
_BLINK_KAPPA = 1.0  # recorded patterns of the whole notebook that one cause's own are shrunk with
_UNRECORDED = 0.5  # of a pattern: what a case says against any blinks by having none noted
_FLOOR = 1e-12


@dataclass(frozen=True, kw_only=True)
class Tuning:
    """Hold what is fitted on a notebook's own history; the defaults serve below 50 cases.

    logistic: whether there is a logistic opinion; very large notebooks do without. strength: how far it may
    follow the cases. tau: how quickly a vote falls with likeness. quiet: likeness at which a case is worth as
    much as the shares of causes alone. meaning_share: of meaning beside words in likeness. kappa: cases
    that a wider neighbourhood is worth. say: exponent of each of OPINIONS. flat: how much
    flatter opinions are when little was said (power of how telling it was). doubt: share of cases that no
    word could have told, for which the shares of causes stand. new_offset, new_slope, new_middle: what is
    added to Good-Turing's log odds of a new cause, at a middling best likeness and for each step beyond it
    (slope never above 0). fitted: whether these were fitted. cases: how many there were.
    """

    logistic: bool = True
    strength: float = 16.0
    tau: float = 0.08
    quiet: float = 0.35
    meaning_share: float = 0.3
    kappa: float = 8.0
    say: tuple[float, ...] = (0.5, 0.1, 0.35, 0.5, 0.1, 0.7, 0.5, 1.0)
    flat: float = 0.5
    doubt: float = 0.02
    new_offset: float = 0.0
    new_slope: float = 0.0
    new_middle: float = 0.5
    fitted: bool = False
    cases: int = 0


class Setting:
    """Weigh one complaint against the usable past cases; the parts of `cause_odds`, for fitting as well."""

    def __init__(self, cases: PastCases, asked: Asked, tuning: Tuning, usable: BoolArray) -> None:
        """Take a complaint and the cases that may be used (each with a cause)."""
        self.cases, self.asked, self.tuning, self.usable = cases, asked, tuning, usable
        self.evidence = np.where(usable, cases.evidence, 0.0)
        self.counts = cases.sums(self.evidence)
        self.known: BoolArray = cases.sums(usable) > 0
        newest = int(cases.date_days[usable].max())
        self._age = 0.5 ** (np.maximum(newest - cases.date_days, 0) / _HALF_LIFE_DAYS)

    @cached_property
    def shares(self) -> FloatArray:
        """Return the shares of the causes in the whole notebook; shape (n_causes,)."""
        return self._backed_off(0)

    @cached_property
    def device_shares(self) -> FloatArray:
        """Return the shares of the causes in sets of the device, where it is known; shape (n_causes,)."""
        return self._backed_off(1 if self.device >= 0 else 0)

    @cached_property
    def local_shares(self) -> FloatArray:
        """Return the shares of the causes in what is said of the set, backed off; shape (n_causes,)."""
        return self._backed_off(len(self._neighbourhoods))

    def _backed_off(self, depth: int) -> FloatArray:
        near = self._neighbourhoods[:depth]
        levels = [self.counts, *(self.cases.sums(self.evidence * each) for each in near)]
        kappas = [self.tuning.kappa] * depth
        if depth and self.device >= 0:
            kappas[0] = _DEVICE_KAPPA
        return backed_off_shares(levels, kappas=kappas, known=self.known)

    @cached_property
    def device(self) -> int:
        """Return the code of the device said, or else of the family's; -1 when neither is known."""
        cases, asked = self.cases, self.asked
        if asked.device != -1:
            found = asked.device
        else:
            codes = cases.device[self.usable & (cases.family == asked.family)] if asked.family >= 0 else []
            codes = np.asarray(codes, np.int64)
            codes = codes[codes >= 0]
            found = int(np.bincount(codes).argmax()) if len(codes) else -1
        return found if found >= 0 and bool((self.usable & (cases.device == found)).any()) else -1

    def kept_to_device(self, probability: FloatArray) -> FloatArray:
        """Return probabilities with those of causes never met in the device held to a few per cent in all.

        However well a microwave's complaint fits, the set is a television: what is taken off points to a
        cause that is not in the notebook yet.
        """
        if self.device < 0:
            return probability
        met = self.cases.sums(self.evidence * (self.cases.device == self.device))
        most = _OTHER_DEVICES + 1 / (1 + float(met.sum()))
        share = float(probability[met == 0].sum())
        return np.where(met == 0, probability * min(1.0, most / max(share, _FLOOR)), probability)

    @cached_property
    def _neighbourhoods(self) -> list[BoolArray]:
        """Return the cases ever nearer to the set: of its device, of its make too, of its family."""
        cases, asked = self.cases, self.asked
        near = np.ones(cases.size, np.bool_)
        found: list[BoolArray] = []
        for codes, said in ((cases.device, self.device), (cases.make, asked.make)):
            if said >= 0:
                near = near & (codes == said)
                found.append(near)
        if asked.family >= 0:
            found.append(cases.family == asked.family)
        return found

    @cached_property
    def habits(self) -> FloatArray:
        """Return the logarithm of each cause's chance before a word is read: by set and blinks."""
        logs = np.log(np.maximum(self.local_shares, _FLOOR)) + self.blink_logs()
        return log_softmax(np.where(self.known, logs, -np.inf))

    @cached_property
    def blinks(self) -> FloatArray:
        """Return how likely what was said of the blinks is in each case; shape (size,)."""
        return blink_likelihoods(self.cases.blink_code, self.cases.blink_patterns, self.asked.blinks)

    @cached_property
    def context(self) -> FloatArray:
        """Return what a case's vote is worth before its likeness: blinks, family, age, evidence; (size,)."""
        cases, asked = self.cases, self.asked
        device = (cases.device == self.device) if self.device >= 0 else np.ones(cases.size, np.bool_)
        make = (cases.make == asked.make) if asked.make != -1 else np.ones(cases.size, np.bool_)
        near = np.where(
            device & make,
            _SAME_MAKE_AND_DEVICE,
            np.where(device, _SAME_DEVICE, np.where(make, _SAME_MAKE, _OTHER)),
        )
        if asked.family != -1:
            near = np.where(cases.family == asked.family, 1.0, near)
        context: FloatArray = self.blinks * near * self._age * self.evidence
        return context

    @cached_property
    def likeness(self) -> FloatArray:
        """Return how alike words and meaning are, 0 to 1; shape (size,); all 1 where no word was said."""
        if not self.asked.spoken:
            return np.ones(self.cases.size)
        return self.asked.likeness(self.tuning.meaning_share)

    def votes(self, tau: float | None = None) -> FloatArray:
        """Return the weight of each case's vote; (size,). tau: another than the tuning's, for trials."""
        tau = self.tuning.tau if tau is None else tau
        weights: FloatArray = np.exp((self.likeness.astype(np.float64) - 1.0) / tau) * self.context
        return weights

    def vote_logs(self, tau: float, quiets: Sequence[float]) -> list[FloatArray]:
        """Return the opinion of the votes for several settings of quiet: log shares of the causes."""
        votes = self.cases.sums(self.votes(tau))
        logs = []
        for quiet in quiets:
            backing = np.exp((quiet - 1.0) / tau)
            shares = (votes + backing * self.local_shares) / (votes.sum() + backing)
            logs.append(np.log(np.maximum(shares, _FLOOR)))
        return logs

    def blink_logs(self) -> FloatArray:
        """Return the logarithm of how likely each cause shows what was said of the blinks; (n_causes,).

        A case with no pattern noted is weak evidence that it showed none.
        """
        if self.asked.blinks is None:
            return np.zeros(self.cases.n_causes)
        recorded = np.where(self.cases.blink_code >= 0, self.evidence, 0.0)
        fitting = self.cases.sums(recorded * self.blinks)
        count = self.cases.sums(np.where(recorded > 0, recorded, _UNRECORDED * self.evidence))
        anywhere = (fitting.sum() + 0.05) / (count.sum() + 1.0)
        logs: FloatArray = np.log((fitting + _BLINK_KAPPA * anywhere) / (count + _BLINK_KAPPA))
        return logs

    def joined(self) -> FloatArray:
        """Return the logarithm of the causes' relative probabilities; shape (n_causes,).

        Without words the habits of such sets speak, and the blinks.
        """
        if not self.asked.spoken:
            return self.habits
        joined: FloatArray = np.tensordot(np.array(self.tuning.say), self.opinions(), axes=1)
        return joined

    def side_opinions(self) -> list[FloatArray]:
        """Return the opinions of OPINIONS after the vote."""
        levels = (self.shares, self.device_shares, self.local_shares)
        shares, device, local = (np.log(np.maximum(level, _FLOOR)) for level in levels)
        return [shares, device - shares, local - device, self.blink_logs()]

    def opinions(self) -> FloatArray:
        """Return the logarithm of each opinion on each cause; shape (len(OPINIONS), n_causes)."""
        vote = self.vote_logs(self.tuning.tau, [self.tuning.quiet])
        found = np.stack([*self.asked.scores, self.asked.word_scores, *vote, *self.side_opinions()])
        flat: FloatArray = found * self.asked.telling ** (self.tuning.flat * FLATTENED)[:, None]
        return flat

    def sharing(self, meaning_share: float) -> Setting:
        """Return the same setting with another share of meaning in likeness, for trials."""
        tuning = replace(self.tuning, meaning_share=meaning_share)
        other = Setting(self.cases, self.asked, tuning, self.usable)
        for name in (
            "device",
            "local_shares",
            "context",
        ):  # they do not depend on likeness, and take most of the time
            other.__dict__[name] = getattr(self, name)
        return other

    @cached_property
    def good_turing(self) -> float:
        """Return the chance of a new cause among cases like this set, whatever the complaint says."""
        cases = self.cases
        once = self.usable & (cases.sums(self.usable)[np.maximum(cases.cause, 0)] == 1)
        chance = new_share(int(once.sum()), int(self.usable.sum()))
        for near in self._neighbourhoods:
            near = near & self.usable
            chance = new_share(
                int((once & near).sum()), int(near.sum()), parent=chance, kappa=self.tuning.kappa
            )
        return chance

    def best_likeness(self) -> float:
        """Return the likeness of the usable case most like the complaint."""
        return float(self.likeness[self.usable].max())

    def not_in_notebook(self) -> float:
        """Return the chance that the cause is not in the notebook yet; within (0, 1)."""
        chance = self.good_turing
        odds = np.log(chance / (1 - chance)) + self.tuning.new_offset
        if self.asked.spoken:  # a family or a blink count alone is like no case in words, and none the newer
            away = self.asked.telling**NEW_FLAT * (self.best_likeness() - self.tuning.new_middle)
            odds += min(self.tuning.new_slope, 0.0) * away
        return float(1 / (1 + np.exp(-odds)))
