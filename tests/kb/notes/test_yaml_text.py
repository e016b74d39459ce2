"""Values as YAML: read back by the YAML library, and plain where a technician would write plain."""

import pytest
import yaml
from hypothesis import given

from kb.notes.yaml_text import spell, spell_field
from tests.kb.made_up_notes import texts, unhurried


@pytest.mark.parametrize(("value", "written"), [
    pytest.param("PFC MOSFET shorted", "PFC MOSFET shorted", id="plain"),
    pytest.param("3 or 4", "3 or 4", id="plain-digits"),
    pytest.param("-12 V rail low", "-12 V rail low", id="minus-sign"),
    pytest.param("Q801: shorted", "'Q801: shorted'", id="colon"),
    pytest.param("pin #3", "'pin #3'", id="hash"),
    pytest.param("> 10 ohm", "'> 10 ohm'", id="greater-than"),
    pytest.param("it's dead", "it's dead", id="apostrophe-within"),
    pytest.param("'dead'", "\"'dead'\"", id="apostrophe-first"),
    pytest.param("", "''", id="nothing"),
    pytest.param(["dead", "a, b"], "[dead, 'a, b']", id="list"),
    pytest.param({"3": "x: y"}, "{3: 'x: y'}", id="mapping"),
])  # fmt: skip
def test_value_is_written(value: object, written: str) -> None:
    assert spell(value) == written


def test_lines_become_a_block() -> None:
    assert spell_field("proof", "one\n\n  two") == "proof: |-\n  one\n\n    two\n"


def test_long_items_stand_one_a_line() -> None:
    item = "Look at the mains fuse through the vent"
    assert spell_field("before_power", [item, "short"]) == f"before_power:\n  - {item}\n  - short\n"


@given(texts)
@unhurried(200)
def test_field_is_read_back_by_the_yaml_library(text: str) -> None:
    assert yaml.load(spell_field("a", text), Loader=yaml.CBaseLoader) == {"a": text}
    assert yaml.load(spell_field("a", [text, text]), Loader=yaml.CBaseLoader) == {"a": [text, text]}
    assert yaml.load(spell_field(text or "a", {text or "a": text}), Loader=yaml.CBaseLoader) == {
        text or "a": {text or "a": text}
    }
