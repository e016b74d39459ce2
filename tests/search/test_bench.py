"""The open notebook: kept in step with its files, and answering every kind of question."""

import gc
import json
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from kb.notebook import Notebook
from kb.storage.writing import remove_case, save_new_case
from search.answering.advice import DEFAULT_CAUTIONS
from search.answering.answer import Advice, Answer
from search.answering.asked import BlinksError
from search.bench import Bench
from search.index.documents import cause_key
from search.index.postings import PostingCache
from search.planning.checks import Check, order_checks
from tests.search.answering.test_answer import assert_keeps_the_promise

from .small_shop import (
    FET,
    HOB,
    REPAIRS,
    STRIP,
    repair,
    small_shop,
    write_bad_note,
    write_repair,
)

COMPLAINTS = [
    pytest.param("Halvern telly is dark but you can hear it, six flashes", "", "", id="family-blinks-words"),
    pytest.param("it went bang and is dead", "", "", id="words-alone"),
    pytest.param("", "", "6", id="blinks-alone"),
    pytest.param("", "HV-L2", "", id="family-alone"),
    pytest.param("", "BM-20M7", "", id="model-alone"),
    pytest.param("", "CV-I6", "5", id="family-without-a-note"),
    pytest.param("Brackwater", "", "", id="make-alone"),
    pytest.param("a microwave oven", "", "", id="device-alone"),
    pytest.param("", "", "", id="nothing-at-all"),
    pytest.param("qwertz zxcvb", "", "", id="nothing-understood"),
    pytest.param("dark", "XX-99", "", id="unknown-family"),
    pytest.param("lamp does two long three short", "none", "none", id="readings-set-aside"),
]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """A bench on the small shop, for tests that change nothing."""
    return Bench(small_shop(tmp_path_factory.mktemp("shop")))


def opened(root: Path) -> Bench:
    """A bench on a small shop of its own, which looks for changed notes whenever it is told to."""
    return Bench(small_shop(root), look_again_s=0)


def cases(answer: Answer) -> list[str]:
    return [hit.note.case for hit in answer.cases if hit.note]


def chance(answer: Answer, cause: str, bench: Bench) -> float:
    key = cause_key(cause, bench.knowledge.finder)
    return sum(
        each.probability
        for each in answer.causes
        if cause_key(each.root_cause, bench.knowledge.finder) == key
    )


# ------------------------------------------------------------------ every answer


@pytest.mark.parametrize(("text", "family", "blinks"), COMPLAINTS)
def test_answer_keeps_the_promise(bench: Bench, text: str, family: str, blinks: str) -> None:
    assert_keeps_the_promise(bench.answer(text, family=family, blinks=blinks).as_json())


@pytest.mark.parametrize(("text", "family", "blinks"), COMPLAINTS)
@pytest.mark.parametrize("rule_out", [(), ("PFC MOSFET shorted", "LED strip open circuit")])
def test_answer_shares_out_all_of_the_chance(
    bench: Bench, text: str, family: str, blinks: str, rule_out: tuple[str, ...]
) -> None:
    answer = bench.answer(text, family=family, blinks=blinks, rule_out=rule_out)
    chances = [cause.probability for cause in answer.causes]
    assert sum(chances) + answer.other_causes + answer.not_in_notebook == pytest.approx(1.0)
    assert chances == sorted(chances, reverse=True)
    assert all(0 < each <= 1 for each in chances)
    assert 0 < answer.not_in_notebook < 1


@pytest.mark.parametrize(("text", "family", "blinks"), COMPLAINTS)
def test_answer_has_cautions_and_cases(bench: Bench, text: str, family: str, blinks: str) -> None:
    answer = bench.answer(text, family=family, blinks=blinks)
    assert answer.caution
    assert all(caution.says for caution in answer.caution)
    assert answer.cases or answer.notices
    assert len(set(cases(answer))) == len(answer.cases)
    assert set(cases(answer)) <= set(REPAIRS)


@pytest.mark.parametrize(("text", "family", "blinks"), COMPLAINTS)
def test_answer_orders_the_checks_it_shows(bench: Bench, text: str, family: str, blinks: str) -> None:
    answer = bench.answer(text, family=family, blinks=blinks)
    shown = [
        Check(
            root_cause=each.root_cause, probability=each.probability, minutes=each.minutes, inside=each.inside
        )
        for each in answer.plan.checks
    ]
    order = order_checks(shown, opening_min=answer.plan.opening_min)
    assert answer.plan.expected_minutes == pytest.approx(order.expected_minutes)
    assert {each.root_cause for each in shown} <= {cause.root_cause for cause in answer.causes}


def test_answer_is_the_same_when_asked_again_and_by_another_bench(bench: Bench) -> None:
    other = Bench(Notebook(bench.notebook.root))
    for text, family, blinks in (each.values for each in COMPLAINTS):
        answers = [
            replace(each.answer(str(text), family=str(family), blinks=str(blinks)), took_ms=0.0)
            for each in (bench, bench, other)
        ]
        assert answers[0] == answers[1]
        assert answers[0] == answers[2]


def test_answer_shows_no_more_cases_than_asked_for(bench: Bench) -> None:
    assert len(bench.answer("dark", limit=2).cases) == 2


# ------------------------------------------------------------------ what is said, in any mix


def test_answer_to_blinks_alone_has_cases_that_blinked_so(bench: Bench) -> None:
    answer = bench.answer("", blinks="6")
    assert answer.reading.blinks is not None
    assert answer.causes[0].root_cause == "LED strip open circuit"
    assert {str(hit.note.blinks) for hit in answer.cases[:4]} == {"6"}
    assert "blinks 6" in answer.cases[0].matched


def test_answer_to_blinks_lets_an_owner_be_one_off(bench: Bench) -> None:
    assert cases(bench.answer("", blinks="4"))[0] == "20240502-bbb2"  # 3 or 4
    assert {"20240401-bbb1", "20240502-bbb2"} == set(cases(bench.answer("", blinks="3 or 4"))[:2])


def test_answer_to_a_family_alone_has_its_cases_and_no_others(bench: Bench) -> None:
    answer = bench.answer("", family="BW-M7")
    assert set(cases(answer)) == {"20240704-ddd1", "20240805-ddd2"}
    assert answer.causes[0].cases == 2
    finder = bench.knowledge.finder
    assert cause_key(answer.causes[0].root_cause, finder) == cause_key("door switch worn", finder)


def test_answer_takes_a_model_for_its_family(bench: Bench) -> None:
    by_model = bench.answer("dark", family="hv 43 l2")
    assert by_model.reading.family == "HV-L2"
    assert cases(by_model) == cases(bench.answer("dark", family="HV-L2"))


def test_answer_reads_family_and_blinks_in_the_complaint(bench: Bench) -> None:
    reading = bench.answer("my HV-49L2 flashes three times").reading
    assert (reading.family, reading.make, str(reading.blinks)) == ("HV-L2", "Halvern", "3")


def test_answer_counts_what_is_given_beside_the_text(bench: Bench) -> None:
    reading = bench.answer("my HV-49L2 flashes three times", family="BW-M7", blinks="2+3").reading
    assert (reading.family, str(reading.blinks)) == ("BW-M7", "2+3")


def test_answer_sets_aside_readings_that_are_wrong(bench: Bench) -> None:
    reading = bench.answer("my HV-49L2 flashes three times", family="none", blinks="none").reading
    assert (reading.family, reading.make, reading.model, reading.blinks) == ("", "", "", None)


@pytest.mark.parametrize(
    ("text", "family"),
    [pytest.param("Brackwater", "BW-M7", id="make"), pytest.param("microwave", "BW-M7", id="device")],
)
def test_answer_to_make_or_device_alone_has_its_cases_first(bench: Bench, text: str, family: str) -> None:
    assert {hit.note.chassis_family for hit in bench.answer(text).cases[:2]} == {family}


def test_answer_says_when_nothing_was_understood(bench: Bench) -> None:
    answer = bench.answer("")
    (notice,) = answer.notices
    assert "most common causes" in notice
    assert len(answer.cases) == len(REPAIRS)
    assert bench.answer("dark").notices == ()


def test_answer_says_when_no_case_resembles_the_complaint(bench: Bench) -> None:
    answer = bench.answer("qwertz zxcvb")
    (notice,) = answer.notices
    assert "No past case resembles" in notice
    assert answer.cases == ()
    assert answer.causes


def test_answer_says_when_a_family_is_not_known(bench: Bench) -> None:
    (notice,) = bench.answer("dark", family="XX-99").notices
    assert '"XX-99"' in notice


@pytest.mark.parametrize("blinks", ["lots", "-3", "3 or banana"])
def test_answer_refuses_blinks_that_cannot_be_read(bench: Bench, blinks: str) -> None:
    with pytest.raises(BlinksError, match="blinks: ") as caught:
        bench.answer("dark", blinks=blinks)
    assert blinks in str(caught.value)


@pytest.mark.parametrize("blinks", ["", "   "])
def test_answer_takes_empty_blinks_for_none(bench: Bench, blinks: str) -> None:
    assert bench.answer("dark", blinks=blinks).reading.blinks is None


# ------------------------------------------------------------------ families


def test_answer_for_a_family_with_cases_but_no_note(bench: Bench) -> None:
    answer = bench.answer("five flashes", family="cv-i6")
    assert answer.reading.family == "CV-I6"
    assert answer.before_power == ()
    assert answer.opening_assumed
    assert answer.causes[0].root_cause == "IGBT shorted"
    assert answer.notices == ()
    assert answer.caution


def test_family_note_counts_as_soon_as_it_is_written(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    assert bench.answer("", family="CV-I6").before_power == ()
    text = "---\nchassis_family: CV-I6\ndevice: induction hob\nbefore_power: [Lock the circuit off]\n---\n"
    (tmp_path / "families" / "cv-i6.md").write_text(text, encoding="utf-8")
    bench.refresh()
    assert bench.answer("", family="CV-I6").before_power == (Advice("Lock the circuit off"),)


# ------------------------------------------------------------------ ruling out


@pytest.mark.parametrize(
    "spelled", ["LED strip open circuit", "open circuit led STRIP", "Open LED strip circuit"]
)
def test_ruling_out_takes_any_spelling_and_renormalises(bench: Bench, spelled: str) -> None:
    asked = {"text": "dark but talking, six flashes", "family": "HV-L2"}
    before, answer = bench.answer(**asked), bench.answer(**asked, rule_out=[spelled])
    gone = chance(before, spelled, bench)
    assert gone > 0
    assert answer.ruled_out == ("LED strip open circuit",)
    assert chance(answer, spelled, bench) == 0
    left = [cause for cause in before.causes if cause.root_cause != "LED strip open circuit"]
    assert [cause.root_cause for cause in answer.causes] == [cause.root_cause for cause in left]
    for cause, was in zip(answer.causes, left, strict=True):
        assert cause.probability == pytest.approx(was.probability / (1 - gone))
    assert answer.not_in_notebook == pytest.approx(before.not_in_notebook / (1 - gone))
    assert all(check.root_cause != "LED strip open circuit" for check in answer.plan.checks)
    assert answer.plan.expected_minutes != pytest.approx(before.plan.expected_minutes)
    others = [hit.note for hit in before.cases if hit.note and "LED strip" not in hit.note.root_cause]
    assert len(before.cases) > len(others) > 0
    assert cases(answer) == [note.case for note in others]  # in the order of what resembles the complaint


def test_ruling_out_everything_leaves_the_unknown(bench: Bench) -> None:
    every = [cause.root_cause for cause in bench.answer("dark").causes]
    answer = bench.answer("dark", rule_out=every)
    assert answer.causes == ()
    assert answer.plan.checks == ()
    assert (answer.plan.expected_minutes, answer.bench_time) == (None, None)
    assert answer.not_in_notebook == pytest.approx(1.0)
    assert_keeps_the_promise(answer.as_json())


def test_ruling_out_a_cause_nobody_had_gives_a_notice(bench: Bench) -> None:
    before, answer = bench.answer("dark"), bench.answer("dark", rule_out=["moon in the wrong phase"])
    (notice,) = answer.notices
    assert '"moon in the wrong phase"' in notice
    assert answer.causes == before.causes
    assert answer.ruled_out == ()


# ------------------------------------------------------------------ odd notebooks


def test_bench_answers_from_an_empty_notebook(tmp_path: Path) -> None:
    bench = Bench(Notebook(tmp_path))
    for text, family, blinks in (each.values for each in COMPLAINTS):
        answer = bench.answer(str(text), family=str(family), blinks=str(blinks))
        assert_keeps_the_promise(answer.as_json())
        assert answer.cases == ()
        assert answer.causes == ()
        assert answer.not_in_notebook == 1.0
        assert set(DEFAULT_CAUTIONS) <= {caution.kind for caution in answer.caution}
        assert any("write up the first repair" in notice for notice in answer.notices)
    assert bench.knowledge.holdings() == "0 repairs in 0 families, 0 root causes."


def test_bench_finds_words_of_notes_that_cannot_be_read(tmp_path: Path) -> None:
    write_bad_note(tmp_path)
    bench = Bench(Notebook(tmp_path))
    answer = bench.answer("the wombat hums")
    (hit,) = answer.cases
    assert (hit.note, hit.file) == (None, "cases/2024/20240909-fff1.md")
    assert "wombat" in hit.matched
    assert answer.not_in_notebook == 1.0
    assert bench.answer("something else").cases == ()
    assert_keeps_the_promise(answer.as_json())


def test_bench_counts_bad_notes_in_no_cause(tmp_path: Path) -> None:
    small_shop(tmp_path)
    write_bad_note(tmp_path)
    bench = Bench(Notebook(tmp_path))
    assert sum(cause.cases for cause in bench.answer("").causes) == len(REPAIRS)
    hits = bench.answer("dark, the wombat hums").cases
    assert [bool(hit.note) for hit in hits] == [True] * (len(hits) - 1) + [False]
    assert bench.knowledge.holdings() == "11 repairs in 3 families, 5 root causes; 1 note needs attention."


def test_holdings_count_notes_that_need_attention(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    for name in ("20240101-bad1", "20240101-bad2"):
        (tmp_path / "cases" / "2024" / f"{name}.md").write_text("no front matter", encoding="utf-8")
    bench.refresh()
    assert bench.knowledge.holdings().endswith("; 2 notes need attention.")


def test_holdings_count_one_as_one(tmp_path: Path) -> None:
    write_repair(tmp_path, repair("20240110-aaa1", REPAIRS["20240110-aaa1"]))
    assert Bench(Notebook(tmp_path)).knowledge.holdings() == "1 repair in 1 family, 1 root cause."


# ------------------------------------------------------------------ notes that come, change and go


def test_bench_finds_a_case_as_soon_as_it_is_saved(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    assert all("wombat" not in hit.matched for hit in bench.answer("the wombat hums").cases)
    fields = {**FET, "complaint": "the wombat hums", "root_cause": "wombat loose", "date": "2025-01-02"}
    saved = save_new_case(bench.notebook, repair("20250102-9999", fields).model_copy(update={"case": ""}))
    bench.refresh()
    answer = bench.answer("the wombat hums")
    assert cases(answer)[0] == saved.case
    assert answer.causes[0].root_cause == "wombat loose"
    assert answer.causes[0].evidence == (saved.case,)


def test_causes_kept_over_a_save_are_described_as_if_worked_out_anew(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    asked = ("dead", "dark but talking, six flashes", "went bang")
    for text in asked:
        bench.answer(text)
    for number, fields in enumerate((STRIP, {**FET, "root_cause": "aardvark in the fan"})):
        note = repair(f"20250102-999{number}", {**fields, "date": "2025-01-02", "fix_time": "95 min"})
        path = write_repair(tmp_path, note)
        bench.refresh(only=[path.relative_to(tmp_path).as_posix()])
        for text in asked:
            kept, anew = bench.answer(text), Bench(Notebook(tmp_path)).answer(text)
            assert _to_six_digits(replace(kept, took_ms=anew.took_ms)) == _to_six_digits(anew)


def _to_six_digits(answer: Answer) -> Any:
    """Return an answer's JSON: likeness of names is rounded otherwise in a few rows than in all at once."""
    return json.loads(json.dumps(answer.as_json()), parse_float=lambda said: round(float(said), 6))


def test_bench_follows_a_case_that_changed(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    write_repair(tmp_path, repair("20240401-bbb1", {**FET, "root_cause": "wombat loose"}))
    bench.refresh()
    answer = bench.answer("", family="HV-L2")
    assert next(cause for cause in answer.causes if cause.root_cause == "wombat loose").cases == 1
    assert next(cause for cause in answer.causes if cause.root_cause == "PFC MOSFET shorted").cases == 1


def test_bench_forgets_a_case_that_was_removed(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    remove_case(bench.notebook, "20240603-ccc1")
    bench.refresh()
    answer = bench.answer("volume stops at twenty")
    assert "20240603-ccc1" not in cases(answer)
    assert all(cause.root_cause != "hotel lock left on" for cause in answer.causes)


def test_refresh_leaves_notes_alone_that_were_just_looked_at(tmp_path: Path) -> None:
    bench = Bench(small_shop(tmp_path), look_again_s=3600)
    path = write_repair(tmp_path, repair("20250102-9999", {**STRIP, "date": "2025-01-02"}))
    assert not bench.refresh()
    assert bench.refresh(only=[path.relative_to(tmp_path).as_posix()])


def test_rebuild_gives_the_same_answers(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    before = bench.answer("dark, six flashes")
    bench.rebuild()
    assert replace(bench.answer("dark, six flashes"), took_ms=before.took_ms) == before


def test_comebacks_are_named_oldest_first(bench: Bench) -> None:
    assert bench.knowledge.table.comebacks_of("20240110-aaa1") == ["20240320-aaa3", "20241108-aaa4"]
    assert bench.knowledge.table.comebacks_of("20240401-bbb1") == []
    assert bench.knowledge.table.comebacks_of("20990101-zzzz") == []


def test_bench_answers_while_notes_come_and_go(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    working = threading.Event()
    rounds = 6

    def ask(number: int) -> list[Answer]:
        answers = []
        while not working.is_set() or len(answers) < 3:
            answers.append(bench.answer("dark, six flashes" if number % 2 else "", family="HV-L2"))
            if len(answers) >= 200:
                break
        return answers

    def write() -> None:
        for number in range(rounds):
            path = write_repair(
                tmp_path, repair(f"2025010{number + 1}-9999", {**STRIP, "complaint": "dark again"})
            )
            bench.refresh()
            if number % 2:
                path.unlink()
                bench.refresh()

    with ThreadPoolExecutor(4) as pool:
        asked = [pool.submit(ask, number) for number in range(3)]
        try:
            pool.submit(write).result()
        finally:
            working.set()
        answers = [answer for each in asked for answer in each.result()]
    counted = {sum(cause.cases for cause in answer.causes) for answer in answers}
    assert counted <= set(range(len(REPAIRS), len(REPAIRS) + rounds + 1))
    for answer in answers:
        chances = sum(cause.probability for cause in answer.causes)
        assert chances + answer.other_causes + answer.not_in_notebook == pytest.approx(1.0)
    left = len(REPAIRS) + rounds // 2
    assert sum(cause.cases for cause in bench.answer("", family="HV-L2").causes) == left


# ------------------------------------------------------------------ evidence


@pytest.mark.parametrize("text", ["dark but talking, six flashes", "dead", ""])
def test_evidence_can_be_opened_and_has_the_cause(demo_bench: Bench, text: str) -> None:
    answer = demo_bench.answer(text)
    assert answer.causes
    seen = set()
    for cause in answer.causes:
        assert len(cause.evidence) == cause.cases
        for case in cause.evidence:
            path = demo_bench.notebook.case_path(case)
            assert path is not None
            note = demo_bench.notebook.read_case(path)
            spellings = {
                cause_key(name, demo_bench.knowledge.finder) for name in (cause.root_cause, *cause.spellings)
            }
            assert cause_key(note.root_cause, demo_bench.knowledge.finder) in spellings
            seen.add(case)
    assert len(seen) == sum(cause.cases for cause in answer.causes)


def test_words_that_say_nothing_count_all_spellings_of_a_cause(demo_bench: Bench) -> None:
    causes = demo_bench.answer("zzzz").causes
    for cause in causes:
        assert set(cause.codes) == set(demo_bench.knowledge.ruling([cause.root_cause]).codes.tolist())
    assert any(len(cause.codes) > 1 for cause in causes)


def test_hits_say_what_their_notes_say(demo_bench: Bench) -> None:
    for hit in demo_bench.answer("dead, three flashes", family="HV-L2").cases:
        path = demo_bench.notebook.case_path(hit.note.case)
        assert path == hit.file
        assert hit.note == demo_bench.notebook.read_case(path)


def test_learning_tells_how_far_it_is(tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    bench = Bench(small_shop(tmp_path), progress=lambda *each: told.append(each))
    bench.answer("dark")
    assert ("Reading notes", len(REPAIRS), len(REPAIRS)) in told
    assert all(0 <= done <= total for _, done, total in told)


def test_warning_is_empty_for_a_notebook_that_can_be_written(bench: Bench) -> None:
    assert bench.warning == ""
    assert HOB["chassis_family"] in bench.knowledge.table.family_names


def test_a_make_that_is_named_leaves_hardly_another_make_s_families(bench: Bench) -> None:
    shares = {
        said: {each.chassis_family: each.share for each in bench.answer(f"{said} is dead").families}
        for said in ("it", "Brackwater")
    }
    assert shares["it"]["HV-L2"] > 0.2
    assert shares["Brackwater"].get("HV-L2", 0.0) < 0.2 * shares["it"]["HV-L2"]
    assert max(shares["Brackwater"], key=shares["Brackwater"].__getitem__) == "BW-M7"


def test_answers_stay_the_same_with_hardly_any_memory_for_caches(tmp_path: Path) -> None:
    notebook = small_shop(tmp_path)
    usual = Bench(notebook).answer("clicks, then nothing")
    known = _caches()
    small = Bench(notebook, cache_mb=0)
    answer = small.answer("clicks, then nothing")
    assert [(each.root_cause, each.probability) for each in answer.causes] == [
        (each.root_cause, each.probability) for each in usual.causes
    ]
    made = [cache for cache in _caches() if all(cache is not each for each in known)]
    assert made
    assert sum(cache.used_bytes for cache in made) == 0


def _caches() -> list[PostingCache[str, tuple[object]]]:
    return [each for each in gc.get_objects() if isinstance(each, PostingCache)]
