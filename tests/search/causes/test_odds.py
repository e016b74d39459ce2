from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.notes.blinks import BlinkPattern
from search.causes.odds import CauseOdds, cause_odds
from search.causes.opinions import Setting, Tuning
from search.causes.past_cases import Asked, PastCases
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
        date_days=np.array(draw(st.lists(st.integers(0, 9000), min_size=SIZE, max_size=SIZE))),
        evidence=np.array(draw(st.lists(st.sampled_from([0.5, 1.0]), min_size=SIZE, max_size=SIZE))),
    )


@st.composite
def complaints(draw: st.DrawFn) -> Asked:
    """Draw what a complaint may say."""
    scores = st.lists(st.floats(-6, 6), min_size=6, max_size=6)
    return Asked(
        words=np.array(draw(many)),
        meaning=draw(st.one_of(st.none(), many.map(np.array))),
        scores=np.array([draw(scores), draw(scores)]),
        word_scores=np.array(draw(scores)),
        family=draw(st.integers(-2, 2)),
        make=draw(st.integers(-2, 1)),
        device=draw(st.integers(-2, 1)),
        blinks=draw(st.sampled_from([None, *PATTERNS, BlinkPattern.parse("7")])),
        spoken=draw(st.booleans()),
        telling=draw(st.sampled_from([0.0, 0.2, 1.0])),
    )


tunings = st.builds(
    Tuning,
    tau=st.sampled_from([0.05, 0.13]),
    quiet=st.sampled_from([0.2, 0.5]),
    meaning_share=st.sampled_from([0.3, 0.7]),
    say=st.lists(st.floats(0, 1.2), min_size=8, max_size=8).map(tuple),
    flat=st.sampled_from([0.0, 0.5]),
    doubt=st.sampled_from([0.0, 0.05]),
    new_offset=st.floats(-1, 1),
    new_slope=st.floats(-12, 0),
)
masks = st.lists(st.booleans(), min_size=SIZE, max_size=SIZE).map(np.array)


@given(notebooks(), complaints(), tunings, masks)
def test_probabilities_sum_to_one_with_the_share_not_in_the_notebook(
    cases: PastCases,
    asked: Asked,
    tuning: Tuning,
    usable: np.ndarray,  # type: ignore[type-arg]
) -> None:
    odds = cause_odds(cases, asked, tuning, usable=usable)
    assert odds.probability.sum() + odds.not_in_notebook == pytest.approx(1.0)
    assert (odds.probability >= 0).all()
    assert 0 < odds.not_in_notebook <= 1
    assert not odds.case_weight[~usable].any()
    never_met = np.bincount(cases.cause[usable], minlength=6) == 0
    assert not odds.probability[never_met].any()


@given(notebooks(), complaints(), tunings, st.integers(0, SIZE - 1), shares, st.booleans())
def test_a_case_more_like_the_complaint_never_lowers_its_cause(
    cases: PastCases, asked: Asked, tuning: Tuning, at: int, more: float, in_meaning: bool
) -> None:
    usable = np.ones(SIZE, np.bool_)
    before = cause_odds(cases, asked, tuning, usable=usable)
    words, meaning = asked.words.copy(), None if asked.meaning is None else asked.meaning.copy()
    if in_meaning and meaning is not None:
        meaning[at] += (1 - meaning[at]) * more
    else:
        words[at] += (1 - words[at]) * more
    after = cause_odds(cases, replace(asked, words=words, meaning=meaning), tuning, usable=usable)
    cause = cases.cause[at]
    assert after.probability[cause] >= before.probability[cause] - 1e-12


@given(notebooks(), complaints(), tunings, st.integers(0, 5), st.floats(0, 5))
def test_a_higher_score_never_lowers_its_cause(
    cases: PastCases, asked: Asked, tuning: Tuning, cause: int, more: float
) -> None:
    # What a case nearer the complaint does to scores: test_fitting.py, test_word_scores.py.
    usable = np.ones(SIZE, np.bool_)
    scores = asked.scores.copy()
    scores[:, cause] += more
    word_scores = asked.word_scores.copy()
    word_scores[cause] += more
    raised = replace(asked, scores=scores, word_scores=word_scores)
    before = cause_odds(cases, asked, tuning, usable=usable).probability[cause]
    after = cause_odds(cases, raised, tuning, usable=usable).probability[cause]
    assert after >= before - 1e-12


@given(notebooks(), complaints(), st.integers(0, SIZE - 1))
def test_a_case_with_the_blinks_that_were_said_never_lowers_its_cause(
    cases: PastCases, asked: Asked, at: int
) -> None:
    asked = replace(asked, blinks=PATTERNS[0])
    elsewhere, here = cases.blink_code.copy(), cases.blink_code.copy()
    elsewhere[at], here[at] = 1, 0  # recorded as 2+3, and as the 6 that was said
    usable = np.ones(SIZE, np.bool_)
    chances = [
        cause_odds(replace(cases, blink_code=codes), asked, Tuning(), usable=usable).probability
        for codes in (elsewhere, here)
    ]
    assert chances[1][cases.cause[at]] >= chances[0][cases.cause[at]] - 1e-12


@given(notebooks(), complaints(), st.sets(st.integers(0, 5), min_size=1))
def test_ruling_out_never_raises_what_is_ruled_out(
    cases: PastCases, asked: Asked, ruled_out: set[int]
) -> None:
    odds = cause_odds(cases, asked, Tuning(), usable=np.ones(SIZE, np.bool_))
    rest = odds.without(sorted(ruled_out))
    kept = [cause for cause in range(6) if cause not in ruled_out]
    assert not rest.probability[sorted(ruled_out)].any()
    assert rest.probability.sum() + rest.not_in_notebook == pytest.approx(1.0)
    assert (rest.probability[kept] >= odds.probability[kept] - 1e-12).all()
    assert rest.not_in_notebook >= odds.not_in_notebook - 1e-12
    left = odds.probability[kept].sum() + odds.not_in_notebook
    assert rest.probability[kept] * left == pytest.approx(odds.probability[kept])


@given(notebooks(), complaints(), tunings)
def test_odds_are_repeatable(cases: PastCases, asked: Asked, tuning: Tuning) -> None:
    usable = np.ones(SIZE, np.bool_)
    one, other = (cause_odds(cases, asked, tuning, usable=usable) for _ in range(2))
    assert (one.probability == other.probability).all()
    assert (one.case_weight == other.case_weight).all()


def _asked(words: list[float], n_causes: int, **said: object) -> Asked:
    plain = Asked(
        words=np.array(words), meaning=None, scores=np.zeros((2, n_causes)), word_scores=np.zeros(n_causes)
    )
    return replace(plain, **said)  # type: ignore[arg-type]


def _odds(cases: PastCases, asked: Asked) -> CauseOdds:
    return cause_odds(cases, asked, Tuning(), usable=np.ones(cases.size, np.bool_))


def test_every_probability_can_be_followed_to_its_cases() -> None:
    cases = past_cases([0, 1, 0, 1, 0])
    odds = _odds(cases, _asked([0.2, 0.9, 0.8, 0.1, 0.5], 2))
    assert odds.evidence(cases, 0, 9).tolist() == [2, 4, 0]
    assert odds.evidence(cases, 1, 1).tolist() == [1]
    assert odds.share[cases.cause == 0].sum() == pytest.approx(1.0)


def test_a_family_alone_ranks_its_cases_first() -> None:
    cases = past_cases([0, 1, 0, 1], family=np.array([0, 0, 1, 1]), device=np.array([0, 0, 0, 1]))
    odds = _odds(cases, _asked([0.0] * 4, 2, family=0, device=0, spoken=False))
    assert odds.case_weight[:2].min() > odds.case_weight[2] > odds.case_weight[3] > 0


def test_blinks_alone_rank_right_before_one_off_before_unrecorded_before_other() -> None:
    patterns = tuple(BlinkPattern.parse(text) for text in ("6", "7", "2"))
    cases = past_cases([0, 0, 0, 0], blink_code=np.array([0, 1, 2, -1]), blink_patterns=patterns)
    odds = _odds(cases, _asked([0.0] * 4, 1, blinks=BlinkPattern.parse("6"), spoken=False))
    assert np.argsort(-odds.case_weight).tolist() == [0, 1, 3, 2]


def test_what_a_family_is_known_for_comes_first_without_a_word() -> None:
    cases = past_cases([0, 0, 0, 1, 1, 1, 1], family=np.array([0, 0, 0, 0, 1, 1, 1]))
    assert _odds(cases, _asked([0.0] * 7, 2, family=0, spoken=False)).probability.argmax() == 0
    assert _odds(cases, _asked([0.0] * 7, 2, spoken=False)).probability.argmax() == 1


def test_a_case_that_was_not_fixed_says_less_of_its_cause() -> None:
    cases = past_cases([0, 1], evidence=np.array([1.0, 0.5]))
    fixed, not_fixed = _odds(cases, _asked([0.8, 0.8], 2)).probability
    assert fixed > not_fixed > 0


def test_a_case_of_ten_years_ago_counts_half_a_new_one() -> None:
    cases = past_cases([0, 0], date_days=np.array([0, 3650]))
    old, new = _odds(cases, _asked([0.8, 0.8], 1)).case_weight
    assert old / new == pytest.approx(0.5)


def test_cases_rank_by_how_near_their_set_is() -> None:
    columns = {"family": [0, 1, 1, 1, 1], "make": [0, 0, 1, 0, 1], "device": [0, 0, 0, 1, 1]}
    cases = past_cases([0] * 5, **{name: np.array(codes) for name, codes in columns.items()})
    weight = _odds(cases, _asked([0.5] * 5, 1, family=0, make=0, device=0)).case_weight
    # Same family, make and device, device, make, nothing; another device is hardly ever any use.
    assert (np.diff(weight[:3]) < -0.05).all()
    assert weight[2] > 5 * weight[3]
    assert weight[3] > 1.5 * weight[4] > 0


def test_of_equally_like_cases_the_one_of_the_likelier_cause_ranks_first() -> None:
    odds = _odds(past_cases([0, 1, 1]), _asked([0.8, 0.8, 0.8], 2))
    assert odds.probability[1] > odds.probability[0]
    assert odds.case_weight[1] > 1.05 * odds.case_weight[0]


def test_blinks_of_a_cause_by_hand() -> None:
    cases = past_cases([0, 0, 1], blink_code=np.array([0, -1, 1]), blink_patterns=PATTERNS)
    asked = _asked([0.0] * 3, 2, blinks=PATTERNS[0])
    logs = Setting(cases, asked, Tuning(), np.ones(3, np.bool_)).blink_logs()
    # One recorded case fits wholly, one hardly (.03), one without a pattern is half a case of no blinks; each
    # cause is shrunk with one of the notebook's.
    anywhere = (1.0 + 0.03 + 0.05) / (2.5 + 1.0)
    assert np.exp(logs) == pytest.approx([(1.0 + anywhere) / 2.5, (0.03 + anywhere) / 2])


def test_an_unheard_of_complaint_is_likelier_new() -> None:
    cases = past_cases([0, 0, 1, 2])
    tuning = Tuning(new_slope=-6.0)
    usable = np.ones(4, np.bool_)
    familiar = cause_odds(cases, _asked([0.9, 0.2, 0.1, 0.0], 3), tuning, usable=usable)
    unheard_of = cause_odds(cases, _asked([0.1, 0.0, 0.1, 0.0], 3), tuning, usable=usable)
    assert unheard_of.not_in_notebook > familiar.not_in_notebook


def test_an_empty_notebook_knows_nothing() -> None:
    odds = cause_odds(past_cases([]), _asked([], 0), Tuning(), usable=np.empty(0, np.bool_))
    assert odds.not_in_notebook == 1.0
    assert odds.probability.size == 0


def test_a_cause_never_met_in_the_device_is_held_to_a_few_per_cent_however_well_it_fits() -> None:
    cases = past_cases([*[0] * 30, *[1] * 5], device=np.array([*[0] * 30, *[1] * 5]))
    asked = _asked([*[0.1] * 30, *[0.9] * 5], 2, scores=np.array([[0.0, 9.0], [0.0, 9.0]]))
    unsaid = _odds(cases, asked)
    assert unsaid.probability[1] > 0.8
    television = _odds(cases, replace(asked, device=0))
    assert television.probability[1] < 0.06
    assert television.not_in_notebook > unsaid.not_in_notebook  # what fits is no fault of a television
    assert television.case_weight[:30].min() > 0


def test_a_family_tells_the_device_of_its_cases() -> None:
    device = np.array([*[0] * 20, *[1] * 5])
    cases = past_cases([*[0] * 20, *[1] * 5], device=device, family=device)
    asked = _asked([0.1] * 20 + [0.9] * 5, 2, scores=np.array([[0.0, 9.0], [0.0, 9.0]]), family=0)
    assert _odds(cases, asked).probability[1] < 0.08


def test_a_device_of_no_case_leaves_the_others_their_chance() -> None:
    cases = past_cases([0, 1, 1], device=np.array([0, 1, 1]))
    asked = _asked([0.5] * 3, 2, device=-2)
    assert _odds(cases, asked).probability == pytest.approx(
        _odds(cases, replace(asked, device=-1)).probability
    )


def test_a_large_family_counts_against_what_it_never_had() -> None:
    family = np.array([0] * 4 + [1] * 4 + [0] * 40)
    few = past_cases([0] * 4 + [1] * 4, family=family[:8])
    many = past_cases([0] * 4 + [1] * 4 + [0] * 40, family=family)
    for said, most in ((few, 0.45), (many, 0.08)):
        chances = _odds(said, _asked([0.5] * said.size, 2, family=0)).probability
        assert 0 < chances[1] / chances.sum() < most


def test_blinks_that_contradict_every_pattern_of_a_cause_weigh_against_words() -> None:
    cases = past_cases([0] * 3 + [1] * 8, blink_code=np.array([1] * 3 + [0] * 8), blink_patterns=PATTERNS)
    asked = _asked([0.6] * 3 + [0.5] * 8, 2, scores=np.array([[2.0, 0.0], [0.0, 0.0]]))
    silent = _odds(cases, asked).probability
    six = _odds(cases, replace(asked, blinks=PATTERNS[0])).probability
    assert six[0] / six[1] < 0.1 * silent[0] / silent[1]


def test_cases_without_a_pattern_are_weak_evidence_of_none() -> None:
    codes = np.array([0, -1, -1, -1, -1, 1, 1, 1, 1])
    cases = past_cases([0, 1, 1, 1, 1, 2, 2, 2, 2], blink_code=codes, blink_patterns=PATTERNS)
    setting = Setting(cases, _asked([0.0] * 9, 3, blinks=PATTERNS[0]), Tuning(), np.ones(9, np.bool_))
    shown, unrecorded, other = setting.blink_logs()
    assert shown > unrecorded + 1
    assert abs(unrecorded - other) < 0.3  # here four without a pattern weigh like four with another


def test_a_rare_pattern_alone_brings_the_cause_that_showed_it() -> None:
    patterns = (BlinkPattern.parse("2 long + 3 short"), BlinkPattern.parse("2+3"))
    cases = past_cases([0, 0, *[1] * 4], blink_code=np.array([0, 0, 1, 1, 1, 1]), blink_patterns=patterns)
    asked = _asked([0.0] * 6, 2, blinks=patterns[0], spoken=False)
    chances = _odds(cases, asked).probability
    assert chances[0] > chances[1]


def test_a_family_alone_gives_the_shares_of_the_family() -> None:
    causes = [0] * 6 + list(range(1, 10)) + list(range(10, 50))
    cases = past_cases(causes, family=np.array([0] * 15 + [1] * 40))
    odds = _odds(cases, _asked([0.0] * 55, 50, family=0, spoken=False))
    known = odds.probability / odds.probability.sum()
    assert 0.2 < known[0] < 6 / 15  # shrunk towards the notebook's
    assert known[0] > 4 * known[1]


def test_little_said_gives_flatter_odds() -> None:
    cases = past_cases([0, 1, 1, 1])
    asked = _asked([1.0, 0.0, 0.0, 0.0], 2, scores=np.array([[3.0, 0.0], [3.0, 0.0]]))
    sure, less, nothing = (
        _odds(cases, replace(asked, telling=telling)).probability[0] for telling in (1.0, 0.2, 0.0)
    )
    assert sure > less + 0.02
    assert less > nothing + 0.02
