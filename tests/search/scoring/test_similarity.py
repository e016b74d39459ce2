import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from search.index.postings import MemoryPostings
from search.reading.complaint import WeightedTerm
from search.scoring.bm25f import Collection
from search.scoring.similarity import MeaningSpace, word_similarity


def asked(*said: str) -> list[WeightedTerm]:
    return [WeightedTerm(word, 1.0, word) for word in said]


WORDS = ["dead", "picture", "sound", "hum", "=no power"]
documents = st.lists(
    st.fixed_dictionaries({"complaint": st.lists(st.sampled_from(WORDS), max_size=5)}), min_size=1, max_size=8
)


@given(documents, st.lists(st.sampled_from([*WORDS, "unheard"]), min_size=1, max_size=4), st.data())
def test_word_similarity_is_a_share(
    held: list[dict[str, list[str]]], said: list[str], data: st.DataObject
) -> None:
    source = MemoryPostings(held)
    mask = np.array(data.draw(st.lists(st.booleans(), min_size=len(held), max_size=len(held))))
    found = word_similarity(asked(*said), Collection(source, mask))
    assert found.shape == (len(held),)
    assert ((found >= 0) & (found <= 1)).all()
    assert not found[~mask].any()


def test_unknown_words_make_everything_less_alike() -> None:
    source = MemoryPostings(
        [{"complaint": ["dead"]}, {"complaint": ["hum"]}, {"complaint": ["hum", "sound"]}]
    )
    held = Collection(source)
    known = word_similarity(asked("dead"), held)
    with_unknown = word_similarity(asked("dead", "unheard"), held)
    assert known[0] > with_unknown[0] > 0
    assert not word_similarity(asked("unheard"), held).any()


def test_meaning_is_compared_without_what_all_cases_share() -> None:
    rng = np.random.default_rng(1)
    shared = np.zeros(16)
    shared[0] = 5.0
    rows = rng.normal(size=(30, 16)) + shared
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    rows[7] = 0  # a case without words
    found = MeaningSpace.of([rows], np.ones(30, np.bool_)).cosine_similarity(rows[3])
    assert found.argmax() == 3
    assert found[3] > 0.999
    assert found[7] == 0
    assert np.median(rows @ rows[3]) > 0.7 > 0.3 > np.median(found)


def test_many_cases_keep_the_chief_directions(monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr("search.scoring.similarity._MANY", 50)
    monkeypatch.setattr("search.scoring.similarity._FEW", 4)
    rng = np.random.default_rng(2)
    rows = rng.normal(size=(80, 4)) @ rng.normal(size=(4, 16))  # four directions are all there is
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    everything = np.ones(80, np.bool_)
    few = MeaningSpace.of([rows], everything)
    monkeypatch.undo()
    assert few.blocks[0].shape == (80, 4)
    assert np.allclose(
        few.cosine_similarity(rows[5]),
        MeaningSpace.of([rows], everything).cosine_similarity(rows[5]),
        atol=0.02,
    )


def test_no_case_with_words_is_like_nothing() -> None:
    assert not MeaningSpace.of([np.zeros((3, 8))], np.ones(3, np.bool_)).cosine_similarity(np.ones(8)).any()
