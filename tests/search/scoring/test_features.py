import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.reading.complaint import read_complaint
from search.reading.vectors import load_meaning
from search.scoring.features import feature_rows, sketch_width

texts = st.lists(
    st.sampled_from(
        ["dead", "picture", "no", "sound", "blinks", "t-con", "3.3v", "won't", "start", "clicks"]
    ),
    max_size=9,
)


def _rows(said: list[str], *, meaning: bool = False) -> np.ndarray:  # type: ignore[type-arg]
    readings = [read_complaint(text) for text in said]
    return feature_rows(readings, width=4096, meaning=load_meaning() if meaning else None)


def _likeness(one: str, other: str) -> float:
    rows = _rows([one, other])
    return float(rows[0] @ rows[1])


@given(st.lists(texts.map(" ".join), min_size=1, max_size=4))
def test_a_row_depends_on_its_own_text_alone(said: list[str]) -> None:
    together = _rows(said)
    for row, text in zip(together, said, strict=True):
        assert np.allclose(row, _rows([text])[0], atol=1e-6)
        assert np.linalg.norm(row) <= 1.1  # a little above 1 where two parts fall into one bucket


@pytest.mark.parametrize(
    ("said", "nearer", "farther"),
    [
        pytest.param("screen flickers", "screen flickering", "screen cracked", id="same-stem"),
        pytest.param("capacitor bulging", "capasitor", "resistor", id="misspelt"),
        pytest.param("won't turn on", "stone dead", "stone cold", id="same-trade-idea"),
        pytest.param("no picture", "no picture again", "picture again", id="pair-of-words"),
    ],
)
def test_likeness_of_texts(said: str, nearer: str, farther: str) -> None:
    assert _likeness(said, nearer) > _likeness(said, farther)


def test_all_parts_together_have_length_one() -> None:
    # Words, pairs and ideas; without any of them the row would be shorter.
    assert np.linalg.norm(_rows(["won't turn on, stone dead"])[0]) == pytest.approx(1.0, abs=0.04)


def test_text_without_words_is_a_row_of_zeros() -> None:
    assert not _rows(["", "?!"], meaning=False).any()
    assert _rows([""], meaning=True).shape == (1, 4096 + 256)
    assert not _rows([""], meaning=True).any()


def test_larger_collections_have_fewer_buckets() -> None:
    assert sketch_width(100) > sketch_width(10_000) > sketch_width(100_000)
