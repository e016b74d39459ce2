"""Family notes: read and written."""

import pytest
from hypothesis import given

from kb.errors import NoteError
from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from tests.kb.made_up_notes import families, unhurried

TEXT = """---
chassis_family: HV-L2
device: LED TV
make: Halvern
models: [HV-43L2, HV-55L2*]
opening_time: 12 min
before_power:
  - Look at the mains fuse through the vent, then at the earth tag.
tell_owner: [Leave it unplugged]
caution: [mains, heavy set]
blink_meaning:
  3: supply voltage missing
  2 long + 3 short: panel does not answer
boards: [power supply, main board]
workshop_sheet: 14
---
Forty screws.
"""


def test_family_is_read() -> None:
    note = FamilyNote.parse(TEXT, file="families/hv-l2.md")
    assert (note.chassis_family, note.device, note.make) == ("HV-L2", "LED TV", "Halvern")
    assert note.models == ("HV-43L2", "HV-55L2*")
    assert note.opening_time_min == 12
    assert note.before_power == ("Look at the mains fuse through the vent, then at the earth tag.",)
    assert note.blink_meaning == (
        (BlinkPattern.parse("3"), "supply voltage missing"),
        (BlinkPattern.parse("2 long 3 short"), "panel does not answer"),
    )
    assert note.while_open == ()
    assert note.unknown == {"workshop_sheet": "14"}
    assert note.body == "Forty screws."


def test_family_in_canonical_spelling_is_written_as_it_stands() -> None:
    assert FamilyNote.parse(TEXT, file="families/hv-l2.md").as_text() == TEXT


def test_blink_meaning_may_come_as_pairs() -> None:
    note = FamilyNote.from_fields(
        {"chassis_family": "X", "device": "radio", "blink_meaning": [["2+3", "fuse"]]}
    )
    assert note.blink_meaning == ((BlinkPattern.parse("2+3"), "fuse"),)


@pytest.mark.parametrize(
    "meaning",
    [
        "three: fuse", ["3"], {"": "fuse"}, {"3": "a", "three": "b"}, {"often": "c"}, 3,
        pytest.param({f"{one}+{two}": "a" for one in range(1, 27) for two in range(1, 21)}, id="endless"),
    ],
)  # fmt: skip
def test_blink_meaning_refused_says_what_to_write(meaning: object) -> None:
    with pytest.raises(NoteError) as caught:
        FamilyNote.from_fields({"chassis_family": "X", "device": "radio", "blink_meaning": meaning})
    assert [problem.field for problem in caught.value.problems] == ["blink_meaning"]
    assert "write" in caught.value.problems[0].remedy


@given(families)
@unhurried(100)
def test_family_written_is_read_back(note: FamilyNote) -> None:
    assert FamilyNote.parse(note.as_text(), file="families/x.md") == note


@given(families)
@unhurried(50)
def test_family_taken_apart_is_put_together_again(note: FamilyNote) -> None:
    assert FamilyNote.from_fields({**note.as_fields(), "body": note.body}) == note
