"""Past cases shown beside an answer: what they have in common with the complaint."""

from pathlib import Path

import pytest

from search.bench import Bench

from ..small_shop import small_shop


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return Bench(small_shop(Path(tmp_path_factory.mktemp("shop"))))


def matched(bench: Bench, case: str, text: str, **said: str) -> tuple[str, ...]:
    return next(hit.matched for hit in bench.answer(text, **said).cases if hit.note.case == case)


def test_hit_names_words_as_its_note_spells_them_then_ideas(bench: Bench) -> None:
    common = matched(bench, "20240110-aaa1", "screen got dark, there is a sound")
    assert common[:2] == ("sound", "screen")
    assert "dark" in common
    assert len(set(common)) == len(common)


def test_hit_names_family_and_blinks_that_agree(bench: Bench) -> None:
    assert {"HV-L2", "blinks 6"} <= set(matched(bench, "20240110-aaa1", "6 flashes", family="HV-43L2"))
    other = matched(bench, "20240401-bbb1", "6 flashes, dead", family="HV-43L2")
    assert "HV-L2" in other
    assert "blinks 3" not in other


def test_hit_names_an_idea_that_its_note_puts_in_other_words(bench: Bench) -> None:
    assert "no power" in matched(bench, "20240502-bbb2", "nothing happens when I switch it on")
