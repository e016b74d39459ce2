"""What the answers rest on."""

import pytest
from flask import Flask
from flask.testing import FlaskClient

from web.server.desk import Desk


def test_about_measures_a_small_notebook_by_itself(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("web.server.desk.LONGEST_WAIT_S", 60.0)
    text = client.get("/about").text
    assert "4 repairs" in text
    assert "the real cause came first in" in text


def test_about_leaves_it_to_a_press_to_measure_a_large_notebook(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("web.server.desk.QUICK_CASES", 3)
    text = client.get("/about").text
    assert "Not measured yet" in text
    assert "Measure now" in text


def test_about_says_in_plain_words_how_often_it_was_right(app: Flask, client: FlaskClient) -> None:
    desk = app.extensions["desk"]
    assert isinstance(desk, Desk)
    desk.measuring.measure()
    measured = desk.measuring
    assert measured.error == ""
    assert measured.evaluation is not None
    text = client.get("/about").text
    assert f"Of the last {measured.evaluation.n} repairs, the real cause came first in" in text
    assert "Measure now" not in text


def test_about_says_when_the_extra_is_missing(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("web.pages.about.load_meaning", lambda: None)
    assert "Words only" in client.get("/about").text


@pytest.mark.parametrize(
    ("most_notes", "said"), [pytest.param(4, True, id="small"), pytest.param(3, False, id="large")]
)
def test_about_says_when_the_sentence_model_alone_is_missing(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch, most_notes: int, said: bool
) -> None:
    assert "is missing" not in client.get("/about").text
    monkeypatch.setattr("web.pages.about.load_sentences", lambda: None)
    monkeypatch.setattr("web.pages.about.MOST_SENTENCES", most_notes)
    text = client.get("/about").text
    assert ("Word by word only" in text) == said
    assert "by what the words mean" in text


def test_about_says_when_it_could_not_be_measured(
    app: Flask, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object, **__: object) -> None:
        raise RuntimeError("out of memory")

    monkeypatch.setattr("web.server.desk.evaluate_notebook", fails)
    app.extensions["desk"].measuring.measure()
    assert "out of memory" in client.get("/about").text
    assert not app.extensions["desk"].measuring.at_work
