"""Choose the questions to ask the owner: those that best split the likeliest causes."""

from collections.abc import Mapping, Sequence
from itertools import accumulate

import numpy as np

from kb.files import own_toml
from search.answering.answer import CauseAnswer, Question
from search.reading.complaint import Reading
from search.reading.plain_form import CONCEPT_MARK
from search.stats.arrays import FloatArray

# All chosen by us.
QUESTIONS_ASKED = 3  # an owner's patience
PRIOR_CASES = 2.0  # average cases of the notebook added to each cause's own
LEAST_GAIN_BITS = 0.05  # a question that gains less is not worth asking
_TOLD = own_toml(__file__, "questions.toml")
QUESTIONS: Mapping[str, str] = _TOLD["questions"]  # by concept of a symptom: how to ask for it


def questions_for(
    reading: Reading,
    suspects: Sequence[CauseAnswer],
    new: float,
    counts: FloatArray,
    shares: FloatArray,
    *,
    dangers: frozenset[str],
) -> tuple[Question, ...]:
    """Return the questions worth asking, the most telling first; ties: as in questions.toml.

    What the owner has said or denied, in whatever words, is not asked. A cause that is not in the notebook is
    taken to show each symptom as often as all cases do. new: the chance of such a cause. counts, shares: see
    Knowledge.symptom_counts. dangers: symptoms after which nobody may try the set.
    """
    if not suspects or not dangers.difference(_TOLD["asked_after"]).isdisjoint(
        (*reading.concepts, reading.danger_heard)
    ):
        return ()
    told = {*reading.concepts, *(term.term.removeprefix(CONCEPT_MARK) for term in reading.denied_terms)}
    said = set().union(*map(same_thing, told))
    begins = [0, *accumulate(len(each.codes) for each in suspects)][:-1]
    shown = np.add.reduceat(counts[:, [code for each in suspects for code in each.codes]], begins, axis=1)
    known = np.flatnonzero(np.array([each not in said for each in QUESTIONS]) & shown.any(axis=1))
    share, cases = shares[known, None], np.array([each.cases for each in suspects])
    chance = (shown[known] + PRIOR_CASES * share) / (cases + PRIOR_CASES)
    probability = np.array([*(each.probability for each in suspects), new])
    gains = information_gain(probability, np.column_stack((chance, share)))
    asked, chosen = list(QUESTIONS.items()), list[Question]()
    for place in np.argsort(-gains, kind="stable").tolist():
        concept, wording = asked[known[place]]
        if len(chosen) == QUESTIONS_ASKED or gains[place] < LEAST_GAIN_BITS:
            break
        if not same_thing(concept) & {each.concept for each in chosen}:
            chosen.append(Question(concept=concept, question=wording, bits=float(gains[place])))
    return tuple(chosen)


def same_thing(concept: str) -> frozenset[str]:
    """Return the symptoms that tell of the same thing as one, with that one."""
    return frozenset({concept}.union(*(group for group in _TOLD["same_thing"] if concept in group)))


def information_gain(probability: FloatArray, yes: FloatArray) -> FloatArray:
    """Return the expected fall of entropy over the causes when the owner answers: H(A) - H(A | C), bits.

    probability: (causes,), taken relative to their sum. yes: (questions, causes) chance of a "yes" under each
    cause. Returns: (questions,).
    Source: Shannon 1948; Lindley 1956, On a Measure of the Information Provided by an Experiment.
    """
    weight = probability / probability.sum()
    gain: FloatArray = _binary_entropy(yes @ weight) - _binary_entropy(yes) @ weight
    return np.maximum(gain, 0.0)


def _binary_entropy(chance: FloatArray) -> FloatArray:
    """Return the entropy of a yes or no in bits; 0 when it is certain."""
    inner = np.clip(chance, 1e-12, 1 - 1e-12)
    entropy: FloatArray = -(inner * np.log2(inner) + (1 - inner) * np.log2(1 - inner))
    return np.where((chance <= 0) | (chance >= 1), 0.0, entropy)
