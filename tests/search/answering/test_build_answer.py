"""How an answer is put together from a few cases: profiles, ruling out, advice, checks and times."""

from dataclasses import replace

import numpy as np
import pytest

from kb.terms import load_vocabulary
from search.answering.advice import DEFAULT_CAUTIONS
from search.answering.answer import Advice, Answer
from search.answering.build_answer import build_answer
from search.answering.knowledge import Knowledge
from search.causes.odds import CauseOdds
from search.index.documents import cause_key
from search.planning.checks import DEFAULT_OPENING_MIN
from search.reading.complaint import Reading, read_complaint

from ..small_shop import REPAIRS, family_notes, knowledge_of, repair

VOCABULARY = load_vocabulary()


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return knowing(*REPAIRS)


def knowing(*cases: str, families: tuple[str, ...] = ("HV-L2", "BW-M7")) -> Knowledge:
    """Return what is known from some of the small shop's cases and family notes."""
    notes = {name: note for name, note in family_notes().items() if name in families}
    return knowledge_of([repair(case, REPAIRS[case]) for case in cases], notes)


def code(knowledge: Knowledge, cause: str) -> int:
    return knowledge.table.cause_keys.index(cause_key(cause, knowledge.finder))


def odds(knowledge: Knowledge, new: float = 0.1, **weight_of: float) -> CauseOdds:
    """Return odds that follow the case weights given by family, e.g. HV_L2=3.0; others weigh nothing."""
    weights = {name.replace("_", "-"): weight for name, weight in weight_of.items()}
    table = knowledge.table
    weight = np.array([weights.get(table.family_names[at], 0.0) for at in table.family.tolist()])
    sums = np.bincount(table.cause, weights=weight, minlength=len(table.cause_names))
    return CauseOdds(
        probability=(1 - new) * sums / sums.sum(),
        not_in_notebook=new,
        case_weight=weight / weight.max(),
        word_similarity=weight / weight.max(),
        similarity=weight / weight.max(),
    )


def put(knowledge: Knowledge, said: CauseOdds, reading: Reading, *, rule_out: tuple[str, ...] = ()) -> Answer:
    return build_answer(knowledge, reading, said, ruling=knowledge.ruling(rule_out), cases=(), notices=())


SAYS_FAMILY = read_complaint("dark", families=list(family_notes().values()), family="HV-L2")
SAYS_NOTHING_OF_IT = read_complaint("dark")


# ------------------------------------------------------------------ what is known of a cause


def test_profile_takes_the_usual_check_board_parts_and_proof(knowledge: Knowledge) -> None:
    profile = knowledge.profile((code(knowledge, "LED strip open circuit"),), -1)
    assert profile.check.check == "LED tester on CN803, string dark"
    assert profile.board == "backlight"
    assert profile.parts == ("LED strips 43 set of 4",)
    assert profile.proof == ("3 h on a white picture",)
    assert profile.caution == ()
    assert knowledge.profile((code(knowledge, "PFC MOSFET shorted"),), -1).caution == ("stored charge",)


def test_profile_leaves_out_parts_of_what_was_not_fixed() -> None:
    given_up = repair(
        "20240101-ffff", {**REPAIRS["20240110-aaa1"], "outcome": "not fixed", "parts": ["glue"]}
    )
    assert knowledge_of([given_up]).profile((0,), -1).parts == ()


def test_rows_of_cause_are_its_cases(knowledge: Knowledge) -> None:
    rows = knowledge.rows_of((code(knowledge, "door switch worn"),))
    assert sorted(knowledge.table.ids[row] for row in rows.tolist()) == ["20240704-ddd1", "20240805-ddd2"]


# ------------------------------------------------------------------ ruling out


def test_ruling_counts_one_cause_once_and_names_what_it_does_not_know(knowledge: Knowledge) -> None:
    ruling = knowledge.ruling(("door switch worn", "worn door switch", "moon in the wrong phase"))
    assert len(ruling.codes) == 1
    assert ruling.names in (("door switch worn",), ("worn door switch",))
    assert ruling.unknown == ("moon in the wrong phase",)


# ------------------------------------------------------------------ advice and cautions


def test_answer_gives_advice_of_the_family_that_was_said(knowledge: Knowledge) -> None:
    answer = put(knowledge, odds(knowledge, HV_L2=1.0, BW_M7=9.0), SAYS_FAMILY)
    note = family_notes()["HV-L2"]
    assert answer.before_power == tuple(map(Advice, note.before_power))
    assert answer.tell_owner == tuple(map(Advice, note.tell_owner))
    assert answer.while_open == tuple(map(Advice, note.while_open))
    assert [each.chassis_family for each in answer.families] == ["HV-L2"]
    assert answer.caution[0].kind == "heavy set"


def test_answer_marks_advice_of_a_family_that_is_only_likely(knowledge: Knowledge) -> None:
    answer = put(knowledge, odds(knowledge, HV_L2=1.0, BW_M7=1.0), SAYS_NOTHING_OF_IT)
    assert answer.before_power == (
        Advice("Look at the fuse F801", "HV-L2"),
        Advice("Press the flat cable home", "HV-L2"),
        Advice("Check the door first", "BW-M7"),
    )
    kinds = [caution.kind for caution in answer.caution]
    assert kinds == ["heavy set", "mains", "microwave high voltage", "stored charge"]
    assert all(caution.says == VOCABULARY.caution_sentence(caution.kind) for caution in answer.caution)


def test_answer_leaves_out_advice_of_a_family_with_little_of_the_evidence(knowledge: Knowledge) -> None:
    # Seven cases weigh 1 each, two weigh 0.1 each: .2 of 7.2 is far below a fifth.
    answer = put(knowledge, odds(knowledge, HV_L2=1.0, BW_M7=0.1), SAYS_NOTHING_OF_IT)
    assert {each.if_family for each in answer.before_power} == {"HV-L2"}
    assert [each.chassis_family for each in answer.families] == ["HV-L2", "BW-M7"]
    assert sum(each.share for each in answer.families) == pytest.approx(1.0)


def test_family_is_no_likelier_than_its_causes(knowledge: Knowledge) -> None:
    # The microwave's cases resemble the complaint most, yet the odds give its cause one part in four.
    said = odds(knowledge, HV_L2=1.0, BW_M7=20.0)
    of_microwave = np.zeros(len(said.probability), np.bool_)
    of_microwave[
        knowledge.table.cause[knowledge.table.family == knowledge.table.family_names.index("BW-M7")]
    ] = True
    likely = said.probability > 0
    probability = np.where(of_microwave, 0.25 / (of_microwave & likely).sum(), 0.0)
    probability += np.where(likely & ~of_microwave, 0.75 / (likely & ~of_microwave).sum(), 0.0)
    answer = put(knowledge, replace(said, probability=probability), SAYS_NOTHING_OF_IT)
    assert {each.chassis_family: each.share for each in answer.families} == {
        "HV-L2": pytest.approx(0.75),
        "BW-M7": pytest.approx(0.25),
    }


def test_answer_has_cautions_where_nobody_wrote_any() -> None:
    knowledge = knowing("20240906-eee1", families=())
    answer = put(knowledge, odds(knowledge, CV_I6=1.0), SAYS_NOTHING_OF_IT)
    assert tuple(caution.kind for caution in answer.caution) == DEFAULT_CAUTIONS
    assert all(caution.says for caution in answer.caution)


def test_hazards_of_causes_that_are_only_possible_come_last_and_are_marked() -> None:
    # No family notes, so only the causes warn; the microwave's has .9 * .06 / 1.06 = 5 %.
    door = repair(
        "20240704-ddd1", {**REPAIRS["20240704-ddd1"], "caution": ["microwave high voltage", "stored charge"]}
    )
    alone = knowledge_of([repair("20240401-bbb1", REPAIRS["20240401-bbb1"]), door])
    answer = put(alone, odds(alone, HV_L2=1.0, BW_M7=0.06), SAYS_NOTHING_OF_IT)
    likely = [each.kind for each in answer.caution if each.likely]
    possible = [each.kind for each in answer.caution if not each.likely]
    assert set(DEFAULT_CAUTIONS) <= set(likely)
    assert possible == ["microwave high voltage"]
    assert [each.kind for each in answer.caution] == likely + possible


def test_mains_and_stored_charge_are_never_among_the_possible_only(knowledge: Knowledge) -> None:
    for weights in ({"HV_L2": 1.0, "BW_M7": 0.1}, {"HV_L2": 0.1, "BW_M7": 1.0}, {"CV_I6": 1.0, "HV_L2": 0.1}):
        for reading in (SAYS_NOTHING_OF_IT, SAYS_FAMILY):
            answer = put(knowledge, odds(knowledge, **weights), reading)
            assert any(each.likely for each in answer.caution)
            assert not {each.kind for each in answer.caution if not each.likely} & set(DEFAULT_CAUTIONS)


def test_family_without_a_note_is_warned_of_mains_beside_what_its_causes_warn_of() -> None:
    hob = repair("20240906-eee1", {**REPAIRS["20240906-eee1"], "caution": ["hot heatsinks"]})
    knowledge = knowledge_of([hob])
    answer = put(knowledge, odds(knowledge, CV_I6=1.0), read_complaint("clicks", family="CV-I6"))
    assert [each.kind for each in answer.caution if each.likely] == ["hot heatsinks", *DEFAULT_CAUTIONS]


def test_cause_says_in_which_families_it_was_met(knowledge: Knowledge) -> None:
    answer = put(knowledge, odds(knowledge, HV_L2=1.0, BW_M7=1.0, CV_I6=1.0), SAYS_NOTHING_OF_IT)
    for cause in answer.causes:
        cases = [REPAIRS[case]["chassis_family"] for case in cause.evidence]
        assert dict(cause.profile.by_family) == {family: cases.count(family) for family in set(cases)}
        assert sum(count for _, count in cause.profile.by_family) == cause.cases


def test_nothing_is_left_over_where_every_cause_is_named(knowledge: Knowledge) -> None:
    # Their probabilities are summed in another order, and 1e-17 would be shown as "under 1 %".
    answer = put(knowledge, odds(knowledge, HV_L2=0.7, BW_M7=0.1, CV_I6=0.3), SAYS_NOTHING_OF_IT)
    assert answer.other_causes == 0.0


# ------------------------------------------------------------------ checks and times


def test_answer_opens_the_set_once_in_the_time_of_its_family(knowledge: Knowledge) -> None:
    answer = put(knowledge, odds(knowledge, HV_L2=1.0), SAYS_FAMILY)
    assert (answer.plan.opening_min, answer.opening_assumed) == (14.0, False)
    # The menu is looked at with the set closed, and .9/7 in 2 min (.064 a minute) is more than all that is
    # inside, (.9 * 6/7) in 14 + 3 + 5 min (.035). Open, the strip's .9 * 4/7 in 5 min (.103) is more than the
    # FET's .9 * 2/7 in 3 min (.086).
    assert [check.root_cause for check in answer.plan.checks] == [
        "hotel lock left on",
        "LED strip open circuit",
        "PFC MOSFET shorted",
    ]
    assert [check.inside for check in answer.plan.checks] == [False, True, True]
    lock, strip = 0.9 / 7, 0.9 * 4 / 7
    assert answer.plan.expected_minutes == pytest.approx(2 + (1 - lock) * (14 + 5) + (1 - lock - strip) * 3)


def test_answer_follows_when_a_cause_is_ruled_out(knowledge: Knowledge) -> None:
    before = put(knowledge, odds(knowledge, HV_L2=1.0), SAYS_FAMILY)
    answer = put(knowledge, odds(knowledge, HV_L2=1.0), SAYS_FAMILY, rule_out=("open LED strip circuit",))
    assert answer.ruled_out == ("LED strip open circuit",)
    kept = 1 - 0.9 * 4 / 7
    assert [cause.root_cause for cause in answer.causes] == ["PFC MOSFET shorted", "hotel lock left on"]
    assert answer.causes[0].probability == pytest.approx(0.9 * 2 / 7 / kept)
    assert answer.not_in_notebook == pytest.approx(0.1 / kept)
    lock = 0.9 / 7 / kept
    # The strip was looked at inside, so the set is open: no 14 min again, and the FET comes before the lock.
    assert (answer.already_open, answer.plan.opening_min) == (True, 0.0)
    assert [check.root_cause for check in answer.plan.checks] == ["PFC MOSFET shorted", "hotel lock left on"]
    assert answer.plan.expected_minutes == pytest.approx(3 + (1 - 2 * lock) * 2)
    assert before.bench_time is not None
    assert answer.bench_time is not None
    assert answer.bench_time.median < before.bench_time.median  # strips are the longest job of the family


@pytest.mark.parametrize(
    ("new", "checked"),
    [pytest.param(0.5, True, id="as-likely-as-not-new"), pytest.param(0.96, False, id="almost-surely-new")],
)
def test_set_is_looked_over_before_a_check_of_a_far_less_likely_cause(
    knowledge: Knowledge, new: float, checked: bool
) -> None:
    assert bool(put(knowledge, odds(knowledge, new, HV_L2=1.0), SAYS_FAMILY).plan.checks) == checked


def test_answer_assumes_the_median_opening_time_for_a_family_without_a_note(knowledge: Knowledge) -> None:
    said = put(knowledge, odds(knowledge, CV_I6=1.0), read_complaint("dark", family="CV-I6"))
    assert (said.plan.opening_min, said.opening_assumed) == (11.0, True)  # between 14 and 8 min
    nobody = knowing("20240906-eee1", families=())
    alone = put(nobody, odds(nobody, CV_I6=1.0), SAYS_NOTHING_OF_IT)
    assert (alone.plan.opening_min, alone.opening_assumed) == (DEFAULT_OPENING_MIN, True)


def test_answer_marks_a_check_without_a_recorded_time(knowledge: Knowledge) -> None:
    (cause,) = put(knowledge, odds(knowledge, CV_I6=1.0), SAYS_NOTHING_OF_IT).causes
    assert cause.check.assumed
    # No case of its board has a time: the notebook's median of 5, 5, 5, 5, 3, 3, 2, 6, 6 min.
    assert cause.check.minutes == 5.0
    assert (cause.cases, cause.profile.fixed, cause.profile.fix_time_min) == (2, 1, 95.0)


def test_answer_names_the_cases_behind_a_cause_weightiest_first(knowledge: Knowledge) -> None:
    said = odds(knowledge, HV_L2=1.0)
    row = knowledge.table.row_of["20240320-aaa3"]
    said.case_weight[row] = 2.0
    (strip,) = (cause for cause in put(knowledge, said, SAYS_FAMILY).causes if "strip" in cause.root_cause)
    # Of equal weight the newest first.
    assert strip.evidence == ("20240320-aaa3", "20241108-aaa4", "20240214-aaa2", "20240110-aaa1")
