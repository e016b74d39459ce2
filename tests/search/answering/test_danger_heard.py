"""Dangers that no rule and no phrase tells are heard in the complaint as a whole."""

from collections import Counter
from pathlib import Path

import pytest

from kb.files import own_toml
from kb.notebook import Notebook
from kb.terms import load_vocabulary
from search.answering import danger_heard as module
from search.answering.danger_heard import danger_model
from search.bench import Bench
from search.reading.sentences import load_sentences
from tests.search.small_shop import small_shop

SCONE = "the rear of my mobile has risen like a scone"
KINDS = own_toml(module.__file__, "danger_sentences.toml")["kind"]


def test_every_kind_is_a_symptom_with_cautions() -> None:
    vocabulary = load_vocabulary()
    ideas = {kind["idea"] for kind in KINDS} - {""}
    assert all(vocabulary.cautions_of(idea, "symptom") for idea in ideas)


def test_no_sentence_stands_twice() -> None:
    said = Counter(line for kind in KINDS for line in kind["said"].split("\n") if line)
    assert [line for line, times in said.items() if times > 1] == []


@pytest.mark.parametrize(
    ("text", "caution"),
    [
        ("leaning on the sink with the dishwasher on makes my wedding ring buzz", "burn or shock"),
        ("the rear of my mobile has risen like a scone", "lithium cells"),
        ("we had the barbecue in the tent and the wife wouldn't wake", "carbon monoxide"),
        ("the scales are empty underneath and the baby's been mouthing something shiny", "swallowed battery"),
        ("there is a grey haze over the bed when the pad has been on", "fire risk"),
        ("the catch on our microwave has gone, a broom props it and it still heats", "microwave leakage"),
        ("my lad has the back off it and wants to touch the big capacitor", "stored charge"),
    ],
    ids=["shock", "swollen", "fumes", "cell", "haze", "waves", "opens"],
)
def test_danger_is_heard_and_comes_first(demo_bench: Bench, text: str, caution: str) -> None:
    answer = demo_bench.answer(text)
    assert answer.reading.danger_heard
    assert caution in [each.kind for each in answer.caution if each.likely][:2]


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("it makes a popping sound through the speaker", id="pops"),
        pytest.param("the kettle clicks off before the water boils", id="clicks-off"),
        pytest.param("I lean on the door or it won't run", id="leans-on-the-door"),
        pytest.param("battery swap please", id="battery"),
        pytest.param("the boiler display flashes and the house is chilly", id="boiler"),
        pytest.param("the boys died laughing at the robot stuck on the rug", id="figure-of-speech"),
    ],
)
def test_plain_fault_sounds_no_alarm(demo_bench: Bench, text: str) -> None:
    assert demo_bench.answer(text).reading.danger_heard == ""


def test_complaints_of_the_demo_sound_no_alarm(demo_bench: Bench) -> None:
    notebook = demo_bench.notebook
    told = [notebook.read_case(path).complaint for path in notebook.scan() if path.startswith("cases/")]
    assert len(told) > 150
    assert [text for text in told if demo_bench.read(text).danger_heard] == []


def test_danger_that_a_rule_hears_is_not_heard_twice(demo_bench: Bench) -> None:
    reading = demo_bench.read("the kettle gave my wife a shock and her arm is numb")
    assert "electric shock" in reading.concepts
    assert reading.danger_heard == ""


def test_gas_that_is_only_likely_hides_no_cause(demo_bench: Bench) -> None:
    reading = demo_bench.read("the rubber hose to its bottle has cracks in it")
    assert reading.danger_heard == "smell of gas"
    assert not demo_bench.answer(reading.text).quote_condition.startswith("No price and no checks")


@pytest.mark.parametrize("damage", [b"", b"nonsense", b"0" * 64 + b"\n[]\n" + b"1" * 4])
def test_damaged_file_is_made_again(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, damage: bytes) -> None:
    monkeypatch.setattr(module, "cache_folder", lambda: tmp_path)
    sentences = load_sentences()
    assert sentences is not None

    def heard() -> str:
        module._model.cache_clear()
        model = danger_model(sentences, wait=True)
        assert model is not None
        return model.heard("the back of my mobile has a belly")

    module._model.cache_clear()
    assert danger_model(sentences, wait=False) is None
    first = heard()
    (kept,) = tmp_path.iterdir()
    whole = kept.read_bytes()
    assert danger_model(sentences, wait=False) is not None
    kept.write_bytes(damage)
    assert heard() == first == "swollen battery"
    assert kept.read_bytes() == whole


def test_without_sentence_vectors_rules_alone_are_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("search.learning.load_sentences", lambda: None)
    assert Bench(small_shop(tmp_path)).read(SCONE).danger_heard == ""


def test_danger_is_heard_before_the_first_note_is_written(tmp_path: Path) -> None:
    assert Bench(Notebook(tmp_path)).read(SCONE).danger_heard == "swollen battery"


def test_nothing_is_asked_and_it_is_said_where_a_danger_is_heard(tmp_path: Path) -> None:
    answer = Bench(small_shop(tmp_path)).answer(SCONE)
    assert answer.reading.as_json()["danger_heard"] == "swollen battery"
    assert answer.questions == ()
