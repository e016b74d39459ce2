"""Suggestions keep one name for one thing."""

from pathlib import Path

import pytest

from kb.notebook import Notebook
from search.bench import Bench
from web.api.suggestions import MOST, suggest


@pytest.fixture
def bench(root: Path) -> Bench:
    return Bench(Notebook(root))


@pytest.mark.parametrize(
    ("field", "text", "first"),
    [
        pytest.param("root_cause", "pfc", "PFC MOSFET shorted", id="start"),
        pytest.param("root_cause", "string", "backlight string open", id="later-word"),
        pytest.param("fix", "two str", "two strips replaced", id="sentence-from-its-beginning"),
        pytest.param("root_cause", "backlite string opn", "backlight string open", id="misspelt"),
        pytest.param("model", "hv-55", "HV-55L2*", id="wildcard-is-no-model"),
        pytest.param("chassis_family", "tn", "TN-W2", id="family-without-a-note"),
        pytest.param("board", "back", "backlight", id="board"),
        pytest.param("parts", "r812", "R812 10R", id="part"),
        pytest.param("symptom", "does not dr", "does not drain", id="symptom"),
    ],
)
def test_suggest_offers_the_name_in_use(bench: Bench, field: str, text: str, first: str) -> None:
    found = suggest(bench, field, text)
    if first.endswith("*"):
        assert first not in found
    else:
        assert found[0] == first


def test_suggest_offers_the_most_used_first_when_nothing_is_typed(bench: Bench) -> None:
    assert suggest(bench, "root_cause", "")[0] == "PFC MOSFET shorted"


def test_suggest_offers_nothing_far_from_what_was_typed(bench: Bench) -> None:
    assert suggest(bench, "root_cause", "xylophone quartz") == []
    assert suggest(bench, "fix", "relay replaced, two screws") == []  # each fix has such words


def test_suggest_keeps_to_its_limit(bench: Bench) -> None:
    assert len(suggest(bench, "symptom", "")) == MOST
