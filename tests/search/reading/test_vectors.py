from pathlib import Path

import numpy as np
import pytest

from search.reading import vectors as module
from search.reading.sentences import WIDTH, SentenceModel, load_sentences
from search.reading.vectors import Meaning, load_meaning


@pytest.fixture
def meaning() -> Meaning:
    loaded = load_meaning()
    assert loaded is not None, "the tests need the extra [meaning]"
    return loaded


@pytest.fixture(params=["static", "sentences"])
def giver(request: pytest.FixtureRequest) -> Meaning | SentenceModel:
    loaded = load_meaning() if request.param == "static" else load_sentences()
    assert loaded is not None, "the tests need the extra [meaning]"
    return loaded


def test_vectors_have_length_one(giver: Meaning | SentenceModel) -> None:
    vectors = giver.vectors(["no picture", "dead, smells burnt", "?!"])
    assert vectors.shape == (3, 256 if isinstance(giver, Meaning) else WIDTH)
    assert vectors.dtype == np.float32
    assert np.allclose(np.linalg.norm(vectors, axis=1), 1, atol=1e-5)


def test_vector_of_nothing_is_zero(giver: Meaning | SentenceModel) -> None:
    assert not giver.vectors(["", "  \n"]).any()
    assert not giver.vectors([" "]).any()
    assert giver.vectors([]).shape == (0, 256 if isinstance(giver, Meaning) else WIDTH)


def test_vectors_do_not_depend_on_neighbours_case_or_spaces(giver: Meaning | SentenceModel) -> None:
    alone = giver.vectors(["won't turn on"])[0]
    among = giver.vectors(["", "a longer text about a set that fell off the ferry", "WON'T  turn\non"])[2]
    assert np.allclose(alone, among, atol=1e-6)


def test_other_words_for_one_thing_are_nearer_than_another_thing(meaning: Meaning) -> None:
    asked, same, other = meaning.vectors(["picture is dark", "the screen is dim", "drum does not spin"])
    assert asked @ same > asked @ other + 0.1


def test_token_vectors_are_kept_as_they_lie_in_their_file(meaning: Meaning) -> None:
    ids = meaning.tokenizer.encode("no picture", add_special_tokens=False).ids
    sums = meaning.token_vectors[ids].astype(np.float64).sum(axis=0)
    assert meaning.token_vectors.dtype == np.float16, "32 bits would take twice the memory"
    assert np.allclose(meaning.vectors(["no picture"])[0], sums / np.linalg.norm(sums), atol=1e-6)


def test_without_the_package_there_is_no_meaning(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "folder_of", lambda package: None)
    assert load_meaning.__wrapped__() is None


def test_with_damaged_files_there_is_no_meaning(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in (module._WEIGHTS_FILE, module._TOKENIZER_FILE):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"not what it should be")
    monkeypatch.setattr(module, "folder_of", lambda package: tmp_path)
    assert load_meaning.__wrapped__() is None
