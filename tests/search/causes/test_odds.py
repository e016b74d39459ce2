from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.notes.blinks import BlinkPattern
from search.causes.context import MEANING_SHARE, ComplaintContext, Corpus
from search.causes.odds import CauseOdds, cause_odds
from search.causes.opinions import OPINIONS
from search.causes.past_cases import PastCases
from search.causes.pool import Tuning
from search.causes.query_features import NEVER_MET, QueryFeatures
from search.index.postings import MemoryPostings
from search.reading.complaint import WeightedTerm
from search.stats.arrays import BoolArray, FloatArray
from tests.search.labelled import past_cases

SIZE = 10
PATTERNS = tuple(BlinkPattern.parse(text) for text in ("6", "2+3", "3 or 4"))
shares = st.floats(0, 1)
many = st.lists(shares, min_size=SIZE, max_size=SIZE)


def _codes(most: int) -> st.SearchStrategy[list[int]]:
    return st.lists(st.integers(-1, most), min_size=SIZE, max_size=SIZE)


@st.composite
def notebooks(draw: st.DrawFn) -> PastCases:
    """Draw past cases with some of everything."""
    return past_cases(
        draw(st.lists(st.integers(0, 4), min_size=SIZE, max_size=SIZE)),
        n_causes=6,
        family=np.array(draw(_codes(2))),
        make=np.array(draw(_codes(1))),
        device=np.array(draw(_codes(1))),
        blink_code=np.array(draw(_codes(2))),
        blink_patterns=PATTERNS,
        evidence=np.array(draw(st.lists(st.sampled_from([0.5, 1.0]), min_size=SIZE, max_size=SIZE))),
    )


@dataclass(frozen=True, kw_only=True)
class Said:
    """A complaint whose likeness to each case is given, not worked out from words."""

    words: FloatArray
    meaning: FloatArray | None = None
    linear: dict[str, FloatArray] = field(default_factory=dict)
    query: QueryFeatures


class GivenContext(ComplaintContext):
    """A context of given likeness; everything else is worked out as ever."""

    def __init__(self, cases: PastCases, said: Said, usable: BoolArray) -> None:
        """Take what a complaint says of each case."""
        source = MemoryPostings([{}] * cases.size)
        super().__init__(Corpus(cases=cases, source=source, space=None), said.query, usable, said.linear)
        self.__dict__.update(word_similarity=said.words, meaning_similarity=said.meaning)


def query(*, spoken: bool = True, **said: object) -> QueryFeatures:
    terms = [WeightedTerm(word, 1.0, word) for word in ("dead", "dark", "cold", "mute")] if spoken else []
    return replace(QueryFeatures(terms=terms, row=np.zeros(1)), **said)  # type: ignore[arg-type]


def odds_of(
    cases: PastCases, said: Said, tuning: Tuning | None = None, usable: BoolArray | None = None
) -> CauseOdds:
    usable = np.ones(cases.size, np.bool_) if usable is None else usable
    return cause_odds(GivenContext(cases, said, usable), tuning or Tuning.usual())


@st.composite
def complaints(draw: st.DrawFn) -> Said:
    """Draw what a complaint may say."""
    scores = st.lists(st.floats(-6, 6), min_size=6, max_size=6).map(np.array)
    return Said(
        words=np.array(draw(many)),
        meaning=draw(st.one_of(st.none(), many.map(np.array))),
        linear={"logistic": draw(scores), "means": draw(scores)},
        query=query(
            spoken=draw(st.booleans()),
            family=draw(st.integers(NEVER_MET, 2)),
            make=draw(st.integers(NEVER_MET, 1)),
            device=draw(st.integers(NEVER_MET, 1)),
            blinks=draw(st.sampled_from([None, *PATTERNS, BlinkPattern.parse("7")])),
        ),
    )


tunings = st.builds(
    Tuning,
    weights=st.fixed_dictionaries({each.name: st.floats(each.least, each.most) for each in OPINIONS}),
    prior_mixture=st.sampled_from([0.0, 0.05]),
)
masks = st.lists(st.booleans(), min_size=SIZE, max_size=SIZE).map(np.array)


@given(notebooks(), complaints(), tunings, masks)
def test_probabilities_sum_to_one_with_the_share_not_in_the_notebook(
    cases: PastCases, said: Said, tuning: Tuning, usable: BoolArray
) -> None:
    odds = odds_of(cases, said, tuning, usable)
    assert odds.probability.sum() + odds.not_in_notebook == pytest.approx(1.0)
    assert (odds.probability >= 0).all()
    assert 0 < odds.not_in_notebook <= 1
    assert not odds.case_weight[~usable].any()
    never_met = np.bincount(cases.cause[usable], minlength=6) == 0
    assert not odds.probability[never_met].any()


def among_known(odds: CauseOdds) -> FloatArray:
    """Return the odds of the notebook's causes among themselves.

    What speaks for a rare cause makes the known ones more alike, and that may speak for a new cause as well.
    """
    shares: FloatArray = odds.probability / odds.probability.sum()
    return shares


@given(notebooks(), complaints(), tunings, st.integers(0, SIZE - 1), shares, st.booleans())
def test_a_case_more_like_the_complaint_never_lowers_its_cause(
    cases: PastCases, said: Said, tuning: Tuning, at: int, more: float, in_meaning: bool
) -> None:
    words, meaning = said.words.copy(), None if said.meaning is None else said.meaning.copy()
    if in_meaning and meaning is not None:
        meaning[at] += (1 - meaning[at]) * more
    else:
        words[at] += (1 - words[at]) * more
    before = among_known(odds_of(cases, said, tuning))
    after = among_known(odds_of(cases, replace(said, words=words, meaning=meaning), tuning))
    assert after[cases.cause[at]] >= before[cases.cause[at]] - 1e-12


@given(notebooks(), complaints(), tunings, st.integers(0, 5), st.floats(0, 5))
def test_a_higher_score_never_lowers_its_cause(
    cases: PastCases, said: Said, tuning: Tuning, cause: int, more: float
) -> None:
    # What a case nearer the complaint does to scores: test_linear.py, test_words.py.
    raised = {name: scores + more * (np.arange(6) == cause) for name, scores in said.linear.items()}
    before = odds_of(cases, said, tuning).probability[cause]
    after = odds_of(cases, replace(said, linear=raised), tuning).probability[cause]
    assert after >= before - 1e-12


@given(notebooks(), complaints(), st.integers(0, SIZE - 1))
def test_a_case_with_the_blinks_that_were_said_never_lowers_its_cause(
    cases: PastCases, said: Said, at: int
) -> None:
    said = replace(said, query=replace(said.query, blinks=PATTERNS[0]))
    elsewhere, here = cases.blink_code.copy(), cases.blink_code.copy()
    elsewhere[at], here[at] = 1, 0  # recorded as 2+3, and as the 6 that was said
    before, after = (
        among_known(odds_of(replace(cases, blink_code=codes), said))[cases.cause[at]]
        for codes in (elsewhere, here)
    )
    assert after >= before - 1e-12


@given(notebooks(), complaints(), st.sets(st.integers(0, 5), min_size=1))
def test_ruling_out_never_raises_what_is_ruled_out(cases: PastCases, said: Said, ruled_out: set[int]) -> None:
    odds = odds_of(cases, said)
    rest = odds.without(sorted(ruled_out))
    kept = [cause for cause in range(6) if cause not in ruled_out]
    assert not rest.probability[sorted(ruled_out)].any()
    assert rest.probability.sum() + rest.not_in_notebook == pytest.approx(1.0)
    assert (rest.probability[kept] >= odds.probability[kept] - 1e-12).all()
    assert rest.not_in_notebook >= odds.not_in_notebook - 1e-12
    left = odds.probability[kept].sum() + odds.not_in_notebook
    assert rest.probability[kept] * left == pytest.approx(odds.probability[kept])


@given(notebooks(), complaints(), tunings)
def test_odds_are_repeatable(cases: PastCases, said: Said, tuning: Tuning) -> None:
    one, other = (odds_of(cases, said, tuning) for _ in range(2))
    assert (one.probability == other.probability).all()
    assert (one.case_weight == other.case_weight).all()


def _said(words: list[float], n_causes: int, *, scores: list[float] | None = None, **said: object) -> Said:
    """Return a complaint; scores: of each linear model, zeros if None."""
    linear = np.zeros(n_causes) if scores is None else np.array(scores)
    return Said(
        words=np.array(words),
        linear={"logistic": linear, "means": linear},
        query=query(**said),  # type: ignore[arg-type]
    )


def test_a_family_alone_ranks_its_cases_first() -> None:
    cases = past_cases([0, 1, 0, 1], family=np.array([0, 0, 1, 1]), device=np.array([0, 0, 0, 1]))
    odds = odds_of(cases, _said([0.0] * 4, 2, family=0, device=0, spoken=False))
    assert odds.case_weight[:2].min() > odds.case_weight[2] > odds.case_weight[3] > 0


def test_blinks_alone_rank_right_before_one_off_before_unrecorded_before_other() -> None:
    patterns = tuple(BlinkPattern.parse(text) for text in ("6", "7", "2"))
    cases = past_cases([0, 0, 0, 0], blink_code=np.array([0, 1, 2, -1]), blink_patterns=patterns)
    odds = odds_of(cases, _said([0.0] * 4, 1, blinks=BlinkPattern.parse("6"), spoken=False))
    assert np.argsort(-odds.case_weight).tolist() == [0, 1, 3, 2]


def test_what_a_family_is_known_for_comes_first_without_a_word() -> None:
    cases = past_cases([0, 0, 0, 1, 1, 1, 1], family=np.array([0, 0, 0, 0, 1, 1, 1]))
    assert odds_of(cases, _said([0.0] * 7, 2, family=0, spoken=False)).probability.argmax() == 0
    assert odds_of(cases, _said([0.0] * 7, 2, spoken=False)).probability.argmax() == 1


def test_a_case_that_was_not_fixed_says_less_of_its_cause() -> None:
    cases = past_cases([0, 1], evidence=np.array([1.0, 0.5]))
    fixed, not_fixed = odds_of(cases, _said([0.8, 0.8], 2)).probability
    assert fixed > not_fixed > 0


def test_cases_rank_by_how_near_their_set_is() -> None:
    columns = {"family": [0, 1, 1, 1, 1], "make": [0, 0, 1, 0, 1], "device": [0, 0, 0, 1, 1]}
    cases = past_cases([0] * 5, **{name: np.array(codes) for name, codes in columns.items()})
    weight = odds_of(cases, _said([0.5] * 5, 1, family=0, make=0, device=0)).case_weight
    # Same family, make and device, device, make, nothing; another device is hardly ever any use.
    assert (np.diff(weight[:3]) < -0.05).all()
    assert weight[2] > 5 * weight[3]
    assert weight[3] > 1.5 * weight[4] > 0


def test_of_equally_like_cases_the_one_of_the_likelier_cause_ranks_first() -> None:
    odds = odds_of(past_cases([0, 1, 1]), _said([0.8, 0.8, 0.8], 2))
    assert odds.probability[1] > odds.probability[0]
    assert odds.case_weight[1] > 1.05 * odds.case_weight[0]


def test_blinks_of_a_cause_by_hand() -> None:
    cases = past_cases([0, 0, 1], blink_code=np.array([0, -1, 1]), blink_patterns=PATTERNS)
    said = _said([0.0] * 3, 2, blinks=PATTERNS[0])
    logs = GivenContext(cases, said, np.ones(3, np.bool_)).blink_logs
    # One recorded case fits wholly, one hardly (.03), one without a pattern is half a case of no blinks; each
    # cause is shrunk with one of the notebook's.
    anywhere = (1.0 + 0.03 + 0.05) / (2.5 + 1.0)
    assert np.exp(logs) == pytest.approx([(1.0 + anywhere) / 2.5, (0.03 + anywhere) / 2])


def test_an_unheard_of_complaint_is_likelier_new() -> None:
    cases = past_cases([0, 0, 1, 2])
    silent = Tuning(weights={each.name: 0.0 for each in OPINIONS})  # so causes are never told apart
    familiar, unheard_of = (odds_of(cases, _said([words] * 4, 3), silent) for words in (0.9, 0.1))
    assert unheard_of.not_in_notebook > familiar.not_in_notebook


def test_a_complaint_that_tells_its_causes_apart_is_likelier_known() -> None:
    cases = past_cases([0, 0, 1, 2])
    apart, alike = (
        odds_of(cases, _said([0.5] * 4, 3, scores=scores)).not_in_notebook
        for scores in ([4.0, 0.0, 0.0], [0.0, 0.0, 0.0])
    )
    assert apart < alike


def test_a_complaint_near_the_middle_of_a_causes_cases_in_meaning_is_likelier_known() -> None:
    cases, by_words = past_cases([0, 0, 1, 2]), 0.5 + 0.8 * MEANING_SHARE / (1 - MEANING_SHARE)
    near, far = (
        # As alike in words and meaning together.
        odds_of(cases, replace(_said([words] * 4, 3), meaning=np.full(4, meaning))).not_in_notebook
        for words, meaning in ((0.5, 0.8), (by_words, 0.0))
    )
    assert near < 0.9 * far


def test_blinks_that_the_family_never_showed_make_a_new_cause_likelier() -> None:
    patterns = tuple(BlinkPattern.parse(text) for text in ("6", "2+3"))
    cases = past_cases(
        [0, 0, 1, 1],
        family=np.array([0, 0, 1, 1]),
        blink_code=np.array([0, 0, 1, 1]),
        blink_patterns=patterns,
    )
    met, one_off, strange = (
        odds_of(cases, _said([0.5] * 4, 2, family=0, blinks=BlinkPattern.parse(blinks)))
        for blinks in ("6", "7", "4")
    )
    assert met.not_in_notebook < one_off.not_in_notebook < strange.not_in_notebook


def test_an_empty_notebook_knows_nothing() -> None:
    odds = odds_of(past_cases([]), _said([], 0))
    assert odds.not_in_notebook == 1.0
    assert odds.probability.size == 0


def test_a_cause_never_met_in_the_device_is_held_to_a_few_per_cent_however_well_it_fits() -> None:
    cases = past_cases([*[0] * 30, *[1] * 5], device=np.array([*[0] * 30, *[1] * 5]))
    said = _said([*[0.1] * 30, *[0.9] * 5], 2, scores=[0.0, 9.0])
    unsaid = odds_of(cases, said)
    assert unsaid.probability[1] > 0.8
    television = odds_of(cases, replace(said, query=replace(said.query, device=0)))
    assert television.probability[1] < 0.06
    assert television.not_in_notebook > unsaid.not_in_notebook  # what fits is no fault of a television
    assert television.case_weight[:30].min() > 0


def test_a_family_tells_the_device_of_its_cases() -> None:
    device = np.array([*[0] * 20, *[1] * 5])
    cases = past_cases([*[0] * 20, *[1] * 5], device=device, family=device)
    said = _said([0.1] * 20 + [0.9] * 5, 2, scores=[0.0, 9.0], family=0)
    assert odds_of(cases, said).probability[1] < 0.08


def test_one_word_of_few_cases_tells_less_than_many_words() -> None:
    cases = past_cases([0, 1, 2])
    many = _said([0.9, 0.4, 0.4], 3, scores=[2.0, 0.0, 0.0])
    one = replace(many, query=replace(many.query, terms=many.query.terms[:1]))
    surest = [odds_of(cases, said).probability.max() for said in (one, many)]
    assert surest[0] < 0.5 * surest[1]


def test_one_word_of_hundreds_of_cases_tells_as_much_as_it_did() -> None:
    cases = past_cases([0, 1, 2] * 200)
    many = _said([0.9, 0.4, 0.4] * 200, 3, scores=[2.0, 0.0, 0.0])
    one = replace(many, query=replace(many.query, terms=many.query.terms[:1]))
    surest = [odds_of(cases, said).probability.max() for said in (one, many)]
    assert surest[0] > surest[1] - 0.02


def test_a_large_family_counts_against_what_it_never_had() -> None:
    family = np.array([0] * 4 + [1] * 4 + [0] * 40)
    few = past_cases([0] * 4 + [1] * 4, family=family[:8])
    many = past_cases([0] * 4 + [1] * 4 + [0] * 40, family=family)
    for cases, most in ((few, 0.45), (many, 0.08)):
        chances = odds_of(cases, _said([0.5] * cases.size, 2, family=0)).probability
        assert 0 < chances[1] / chances.sum() < most


def test_blinks_that_contradict_every_pattern_of_a_cause_weigh_against_words() -> None:
    cases = past_cases([0] * 3 + [1] * 8, blink_code=np.array([1] * 3 + [0] * 8), blink_patterns=PATTERNS)
    said = _said([0.6] * 3 + [0.5] * 8, 2, scores=[2.0, 0.0])
    silent = odds_of(cases, said).probability
    six = odds_of(cases, replace(said, query=replace(said.query, blinks=PATTERNS[0]))).probability
    assert six[0] / six[1] < 0.1 * silent[0] / silent[1]


def test_cases_without_a_pattern_are_weak_evidence_of_none() -> None:
    codes = np.array([0, -1, -1, -1, -1, 1, 1, 1, 1])
    cases = past_cases([0, 1, 1, 1, 1, 2, 2, 2, 2], blink_code=codes, blink_patterns=PATTERNS)
    context = GivenContext(cases, _said([0.0] * 9, 3, blinks=PATTERNS[0]), np.ones(9, np.bool_))
    shown, unrecorded, other = context.blink_logs
    assert shown > unrecorded + 1
    assert abs(unrecorded - other) < 0.3  # here four without a pattern weigh like four with another


def test_a_rare_pattern_alone_brings_the_cause_that_showed_it() -> None:
    patterns = (BlinkPattern.parse("2 long + 3 short"), BlinkPattern.parse("2+3"))
    cases = past_cases([0, 0, *[1] * 4], blink_code=np.array([0, 0, 1, 1, 1, 1]), blink_patterns=patterns)
    said = _said([0.0] * 6, 2, blinks=patterns[0], spoken=False)
    chances = odds_of(cases, said).probability
    assert chances[0] > chances[1]


def test_a_family_alone_gives_the_shares_of_the_family() -> None:
    causes = [0] * 6 + list(range(1, 10)) + list(range(10, 50))
    cases = past_cases(causes, family=np.array([0] * 15 + [1] * 40))
    odds = odds_of(cases, _said([0.0] * 55, 50, family=0, spoken=False))
    known = odds.probability / odds.probability.sum()
    assert 0.2 < known[0] < 6 / 15  # shrunk towards the notebook's
    assert known[0] > 4 * known[1]
