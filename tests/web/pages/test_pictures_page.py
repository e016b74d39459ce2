"""Photographs on a case's page: sent by a form, shown by thumbnail, refused when they are none."""

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.kb.storage.test_pictures import SVG, picture

from ..notes import TYPED
from ..reading_pages import form_values
from ..repositories import git

CASE = "20260318-k7f2"


@pytest.fixture
def poster(make_app: Callable[..., Flask]) -> FlaskClient:
    app = make_app()
    app.config["WTF_CSRF_ENABLED"] = False
    return app.test_client()


def send(client: FlaskClient, *files: tuple[bytes, str], **more: str) -> int:
    data = {"pictures": [(io.BytesIO(each), name) for each, name in files], **more}
    return client.post(f"/cases/{CASE}/pictures", data=data).status_code


def test_several_photographs_are_shown_on_their_case(poster: FlaskClient) -> None:
    assert send(poster, (picture(), "a.jpg"), (picture("PNG"), "b.png"), caption="Burnt <Q801>") == 302
    page = poster.get(f"/cases/{CASE}").text
    assert page.count("?small=1") == 2
    assert "Burnt &lt;Q801&gt;" in page
    response = poster.get(f"/pictures/{CASE}/02.jpg")
    assert response.mimetype == "image/jpeg"
    assert "sandbox" in response.headers["Content-Security-Policy"]


def test_file_larger_than_a_note_is_taken(poster: FlaskClient) -> None:
    data = picture("PNG") + b"\0" * 2_000_000  # bytes behind the end of a PNG are no part of it
    head = b'--x\r\nContent-Disposition: form-data; name="pictures"; filename="a.png"\r\n\r\n'
    form = {"data": head + data + b"\r\n--x--\r\n", "content_type": "multipart/form-data; boundary=x"}
    assert poster.post(f"/cases/{CASE}/pictures", **form).status_code == 302
    assert poster.post("/preview", **form).status_code == 413


def test_what_is_no_picture_is_refused_with_what_to_do(poster: FlaskClient) -> None:
    assert send(poster, (SVG, "plan.jpg")) == 422
    assert "?small=1" not in poster.get(f"/cases/{CASE}").text


@pytest.mark.parametrize("path", [f"/pictures/{CASE}/09.jpg", "/pictures/20260101-0000/01.jpg"])
def test_photograph_that_is_not_there(poster: FlaskClient, path: str) -> None:
    assert poster.get(path).status_code == 404


def test_photographs_are_committed_and_leave_with_their_case(
    make_app: Callable[..., Flask], repository: Path
) -> None:
    app = make_app(git=True)
    app.config["WTF_CSRF_ENABLED"] = False
    client = app.test_client()
    send(client, (picture(), "a.jpg"), caption="x")
    names = git(repository, "show", "--format=", "--name-only").split()
    assert names == [f"pictures/{CASE}/01.jpg", f"pictures/{CASE}/captions.txt"]
    client.post(f"/cases/{CASE}/remove")
    assert not git(repository, "ls-files", "pictures").strip()
    client.post(f"/removed/{CASE}/restore")
    assert len(git(repository, "ls-files", "pictures").split()) == 2


def test_photograph_can_be_taken_out(poster: FlaskClient) -> None:
    send(poster, (picture(), "a.jpg"))
    assert poster.post(f"/pictures/{CASE}/01.jpg/remove").status_code == 302
    assert "?small=1" not in poster.get(f"/cases/{CASE}").text


def test_write_up_takes_photographs_along(poster: FlaskClient) -> None:
    sent = {**TYPED, "pictures": [(io.BytesIO(picture()), "a.jpg"), (io.BytesIO(picture("PNG")), "b.png")]}
    page = poster.post("/cases/new", data=sent, follow_redirects=True)
    assert page.status_code == 200
    assert page.text.count("small=1") == 2


def test_write_up_is_saved_though_its_photograph_is_none(poster: FlaskClient) -> None:
    sent = {**TYPED, "pictures": [(io.BytesIO(SVG), "plan.jpg")]}
    page = poster.post("/cases/new", data=sent, follow_redirects=True).text
    assert "The note is saved, its photographs are not" in page
    assert "small=1" not in page


def test_write_up_sent_twice_keeps_its_photographs_once(poster: FlaskClient) -> None:
    for _ in range(2):
        sent = {**TYPED, "once": "k" * 32, "pictures": [(io.BytesIO(picture()), "a.jpg")]}
        page = poster.post("/cases/new", data=sent, follow_redirects=True).text
    assert page.count("small=1") == 1


def test_photographs_stand_in_answers_and_on_the_family_page(poster: FlaskClient) -> None:
    assert "<img" not in poster.get("/?q=HV-43L2+dead").text + poster.get("/families/HV-L2").text
    send(poster, (picture(), "a.jpg"))
    for path in ("/?q=HV-43L2+dead+three+flashes", "/families/HV-L2"):
        assert f'src="/pictures/{CASE}/01.jpg?small=1"' in poster.get(path).text


def test_large_photograph_passes_the_forms_token(make_app: Callable[..., Flask]) -> None:
    client = make_app().test_client()
    token = form_values(client.get("/cases/new").text)["csrf_token"]
    data = picture("PNG") + b"\0" * 2_000_000
    sent = {**TYPED, "csrf_token": token, "pictures": [(io.BytesIO(data), "a.png")]}
    assert client.post("/cases/new", data=sent, follow_redirects=True).text.count("small=1") == 1
