"""The fitted models against scikit-learn's, and the meaning vectors against the package they come from."""

import numpy as np
import pytest
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import StratifiedKFold
from tokenizers import Tokenizer
from wordllama.inference import WordLlamaInference

from search.causes.linear import fit_logistic, log_softmax
from search.causes.training import stratified_folds
from search.reading.sentences import load_sentences
from search.reading.vectors import load_meaning


def test_logistic_model_agrees_with_scikit_learn() -> None:
    rng = np.random.default_rng(3)
    classes = rng.integers(0, 4, 300)
    rows = rng.normal(size=(300, 8)) + 0.8 * rng.normal(size=(4, 8))[classes]
    ours = fit_logistic(rows, classes, np.ones(300), count=4, strength=2.0, steps=400)
    theirs = LogisticRegression(C=2.0, max_iter=2000, tol=1e-8).fit(rows, classes)
    asked = rng.normal(size=(50, 8))
    probability = np.exp(log_softmax(ours.scores(asked)))
    # Ours holds the offsets near the classes' shares with a weak penalty of its own, hence the tolerance.
    assert np.abs(probability - theirs.predict_proba(asked)).max() < 0.01


def test_folds_hold_as_many_of_each_class_as_scikit_learns() -> None:
    classes = np.random.default_rng(5).choice(6, 203, p=[0.4, 0.25, 0.15, 0.1, 0.06, 0.04])
    ours = stratified_folds(classes, 5)
    theirs = StratifiedKFold(5, shuffle=True, random_state=0).split(np.zeros((203, 1)), classes)
    for fold, (_, held) in enumerate(theirs):
        of_ours = np.bincount(classes[ours == fold], minlength=6)
        assert np.abs(of_ours - np.bincount(classes[held], minlength=6)).max() <= 1
    assert (ours == stratified_folds(classes, 5)).all()
    assert (ours != stratified_folds(classes, 5, seed=1)).any()


def test_meaning_vectors_agree_with_the_packages_own_pooling() -> None:
    meaning = load_meaning()
    assert meaning is not None
    texts = ["no picture, sound ok", "dead after a thunderstorm", "Blinks SIX times then stops", "x"]
    tokenizer = Tokenizer.from_str(meaning.tokenizer.to_str())  # theirs changes the one it is given
    theirs = WordLlamaInference(meaning.token_vectors.astype(np.float32), tokenizer).embed(
        [text.lower() for text in texts], norm=True
    )
    assert np.allclose(meaning.vectors(texts), theirs, atol=1e-5)


@pytest.mark.parametrize(
    ("one", "other", "cosine"),
    [
        pytest.param("The cat sits outside", "The dog plays in the garden", 0.2838, id="somewhat"),
        pytest.param("A man is playing guitar", "A woman watches TV", -0.0327, id="not-at-all"),
        pytest.param("The new movie is awesome", "The new movie is so great", 0.8939, id="very"),
    ],
)
def test_sentence_vectors_have_the_published_cosines(one: str, other: str, cosine: float) -> None:
    """From the documentation of sentence-transformers, for this model unshortened (from memory)."""
    model = load_sentences()
    assert model is not None
    vectors = model.vectors([one, other])
    assert vectors[0] @ vectors[1] == pytest.approx(cosine, abs=0.01)  # weights of 8 bits move it a little
