"""The signs of faults: what the project carries is whole, and what is wrong in a file is named."""

from collections import Counter
from pathlib import Path

import pytest

from kb.errors import NoteError
from kb.terms import load_faults, load_vocabulary


def test_every_fault_has_names_and_signs_and_devices_of_the_vocabulary() -> None:
    faults, vocabulary = load_faults(), load_vocabulary()
    assert len(faults) > 300
    unknown = {name for each in faults for name in each.devices if vocabulary.cautions_of(name) is None}
    assert not unknown
    assert [
        each.names for each in faults if len(each.signs) < 3 or len(set(each.signs)) < len(each.signs)
    ] == []


def test_no_two_faults_of_a_device_have_a_sign_in_common() -> None:
    said = Counter((device, sign) for each in load_faults() for device in each.devices for sign in each.signs)
    assert [each for each, count in said.items() if count > 1] == []


@pytest.mark.parametrize(
    ("lines", "named"),
    [
        pytest.param('names = ["a"]\nsigns = "b"', "signs.toml:4: signs: ", id="text-for-list"),
        pytest.param('names = ["a"]', "signs.toml:1: signs: missing", id="missing"),
        pytest.param('names = []\nsigns = ["b"]', "signs.toml:3: names: ", id="empty"),
        pytest.param(
            'names = ["a"]\nsigns = ["b"]\nsign = ["c"]', "signs.toml:5: sign: not a key", id="unknown-key"
        ),
    ],
)
def test_a_wrong_file_is_said_with_its_place(tmp_path: Path, lines: str, named: str) -> None:
    path = tmp_path / "signs.toml"
    path.write_text(f"[[fault]]\ndevices = []\n{lines}\n", encoding="utf-8")
    with pytest.raises(NoteError) as caught:
        load_faults(path)
    assert str(caught.value).startswith(named)
