"""Whatever JSON is sent to any address that writes: a documented answer, and no note half written."""

import json
import os
import random
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from kb.notebook import Notebook
from kb.notes.case import CASE_FIELDS
from search.bench import Bench
from web.app import create_app

from .conftest import CASES, write_notebook
from .notes import a_note, writing_addresses

JSON_ANSWERS = {200, 201, 400, 404, 409, 413, 415, 422}
PAGE_ANSWERS = {*JSON_ANSWERS, 302, 403}  # a form leads to another page; without a passphrase none signs in
GOOD: dict[str, Any] = {name: value for name, value in a_note().as_fields().items() if name != "case"}

texts = st.one_of(
    st.text(max_size=40), st.sampled_from(["", "2026-02-30", "55 min", "3 or 4", "fixed", "\ud800"])
)
scalars = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), texts)
values = st.recursive(
    scalars,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(texts, inner, max_size=4)),
    max_leaves=12,
)
names = st.one_of(st.sampled_from([*CASE_FIELDS, "body", "shelf"]), texts)
spoilt = st.dictionaries(names, values, max_size=8).map(lambda some: {**GOOD, **some})
anything = st.one_of(values, st.dictionaries(names, values, max_size=8), spoilt)
unhurried = settings(deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def notebook(tmp_path_factory: pytest.TempPathFactory) -> Notebook:
    return Notebook(write_notebook(tmp_path_factory.mktemp("any") / "notebook"))


@pytest.fixture(scope="module")
def client(notebook: Notebook) -> FlaskClient:
    app = create_app(Bench(notebook, look_again_s=0), testing=True)
    app.config["WTF_CSRF_ENABLED"] = False
    return app.test_client()


def truly_random() -> None:
    """Undo hypothesis' seeding: Whoosh draws the names of its segments, and two must not be the same."""
    random.seed(os.urandom(16))


def no_half_note(root: Path) -> None:
    """Hold that each note reads whole and that nothing half written lies about."""
    fresh = Notebook(root)
    for path in fresh.scan():
        fresh.read_family(path) if path.startswith("families/") else fresh.read_case(path)
    assert not list(root.rglob("*.tmp"))


@given(sent=anything)
@example(sent={"body": []})
@unhurried
def test_any_json_gets_a_documented_answer_from_the_interface(
    client: FlaskClient, notebook: Notebook, sent: Any
) -> None:
    truly_random()
    data = json.dumps(sent)
    for method, path in (("POST", "/api/cases"), ("PUT", f"/api/cases/{next(iter(CASES))}")):
        response = client.open(path, method=method, data=data, content_type="application/json")
        assert response.status_code in JSON_ANSWERS, (method, path, response.text)
        answer = response.get_json()
        assert ("case" in answer) == (response.status_code < 300)
        if response.status_code >= 400:
            assert set(answer["error"]) == {"message", "fields"}
    no_half_note(notebook.root)


@given(sent=anything)
@settings(unhurried, max_examples=25)
def test_any_json_gets_a_documented_answer_from_every_address_that_writes(
    client: FlaskClient, notebook: Notebook, sent: Any
) -> None:
    truly_random()
    addresses = writing_addresses(client.application)
    assert len(addresses) > 12
    for method, path in addresses:
        kind = "application/json"
        response = client.open(path, method=method, data=json.dumps(sent), content_type=kind)
        assert response.status_code in PAGE_ANSWERS, (method, path, response.text)
    no_half_note(notebook.root)


@given(typed=st.dictionaries(names, texts, max_size=12))
@settings(unhurried, max_examples=50)
def test_anything_typed_into_the_form_is_saved_or_told(
    client: FlaskClient, notebook: Notebook, typed: dict[str, str]
) -> None:
    truly_random()
    sent = {
        name: text.encode("utf-8", errors="surrogatepass") for name, text in typed.items() if name.isascii()
    }
    for path in ("/cases/new", "/cases/20260318-k7f2/edit", "/families/new", "/families/HV-L2/edit"):
        assert client.post(path, data=sent).status_code in PAGE_ANSWERS
    no_half_note(notebook.root)
