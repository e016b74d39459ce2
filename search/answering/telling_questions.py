"""The questions for the owner that would split the causes of an answer best."""

from collections.abc import Sequence

import numpy as np

from search.answering.answer import CauseAnswer, Question
from search.answering.term_counts import TermCounts
from search.causes.odds import CauseOdds
from search.planning.questions import QUESTIONS, information_gain, same_thing
from search.reading.complaint import Reading
from search.reading.concepts import CONCEPT_MARK

# All chosen by us.
QUESTIONS_ASKED = 3
PRIOR_CASES = 2.0  # that a symptom's share of all cases adds to each cause
LEAST_GAIN_BITS = 0.05  # a question that tells less is not worth asking


def questions_for(
    counts: TermCounts, reading: Reading, odds: CauseOdds, suspects: Sequence[CauseAnswer]
) -> list[Question]:
    """Return the questions worth asking, the most telling first; ties: as in questions.toml.

    Nothing is asked that the owner has said or denied, in these or other words. A cause that is not in the
    notebook shows each symptom as often as all cases together.
    """
    told = {*reading.concepts, *(term.term.removeprefix(CONCEPT_MARK) for term in reading.denied_terms)}
    said = {other for concept in told for other in same_thing(concept)}
    asked = list(QUESTIONS.items())
    counted, shares = counts.of_questions
    if not suspects:
        return []
    begins = np.cumsum([0, *(len(each.codes) for each in suspects[:-1])])
    shown = np.add.reduceat(counted[:, [code for each in suspects for code in each.codes]], begins, axis=1)
    news = np.array([concept not in said for concept, _ in asked])
    known = np.flatnonzero(news & shown.any(axis=1))
    share = shares[known]
    cases = np.array([float(each.cases) for each in suspects])
    chance = (shown[known] + PRIOR_CASES * share[:, None]) / (cases + PRIOR_CASES)
    yes = np.column_stack((chance, share))
    gains = information_gain(np.array([*(each.probability for each in suspects), odds.not_in_notebook]), yes)
    chosen: list[Question] = []
    for place in np.argsort(-gains, kind="stable").tolist():
        concept, wording = asked[known[place]]
        if len(chosen) == QUESTIONS_ASKED or gains[place] < LEAST_GAIN_BITS:
            break
        if not same_thing(concept) & {each.concept for each in chosen}:
            chosen.append(Question(concept=concept, question=wording, bits=float(gains[place])))
    return chosen
