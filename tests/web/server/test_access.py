"""Who may write from where, and how often a passphrase may be guessed."""

import stat
from collections.abc import Callable
from pathlib import Path
from urllib.parse import unquote

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.security import check_password_hash, generate_password_hash

from kb.files import read_private
from tests.web.api.test_search_and_cases import NEW
from web.server.access import PER_SECONDS, SHORTEST, TRIES, Access, keep_hash
from web.server.security import is_this_computer

WORDS = "kettle anchor lantern"
HASH = generate_password_hash(WORDS, method="scrypt:1024:8:1")  # a quick one: the tests check many
PHONE = {"REMOTE_ADDR": "192.168.7.20"}


@pytest.fixture
def shop(make_app: Callable[..., Flask]) -> Callable[..., FlaskClient]:
    """Return the client of a telephone in the shop, over an app with these rules."""

    def client(kept_hash: str = HASH, *, private: bool = False) -> FlaskClient:
        app = make_app(access=Access(kept_hash, private=private))
        app.config["WTF_CSRF_ENABLED"] = False
        client = app.test_client()
        client.environ_base.update(PHONE, HTTP_HOST="192.168.7.2:8571")
        return client

    return client


def sign_in(client: FlaskClient, words: str = WORDS, **more: str) -> int:
    return client.post("/sign-in", data={"passphrase": words, **more}).status_code


def test_without_a_passphrase_only_this_computer_writes(shop: Callable[..., FlaskClient]) -> None:
    client = shop("")
    assert client.get("/?q=dead").status_code == 200
    refused = client.post("/api/cases", json=NEW)
    assert refused.status_code == 403
    assert "benchlore passphrase" in refused.get_json()["error"]["message"]
    assert sign_in(client, "") == 403
    here = client.post("/api/cases", json=NEW, environ_overrides={"REMOTE_ADDR": "127.0.0.1"})
    assert here.status_code == 201


def test_passphrase_lets_a_telephone_write_until_it_signs_out(shop: Callable[..., FlaskClient]) -> None:
    client = shop()
    assert client.post("/api/cases", json=NEW).status_code == 401
    assert sign_in(client, tech="AM", next="/cases/new") == 302
    assert client.post("/api/cases", json=NEW).status_code == 201
    client.post("/sign-out")
    assert client.post("/api/cases", json=NEW).status_code == 401


def test_cookie_is_out_of_reach_of_scripts_and_other_sites(shop: Callable[..., FlaskClient]) -> None:
    client = shop()
    cookie = client.post("/sign-in", data={"passphrase": WORDS}).headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie


def test_session_forged_with_the_notebooks_key_is_worth_nothing(
    shop: Callable[..., FlaskClient], make_app: Callable[..., Flask]
) -> None:
    client = shop()
    with client.session_transaction() as session:  # signed with the key that the notebook brought along
        session["access"] = Access("another").token
    assert client.post("/api/cases", json=NEW).status_code == 401


def test_private_shop_shows_nothing_before_the_passphrase(shop: Callable[..., FlaskClient]) -> None:
    client = shop(private=True)
    assert unquote(client.get("/families/?a=1").location) == "/sign-in?next=/families/?a=1"
    assert client.get("/api/search?q=dead").status_code == 401
    with client.get("/static/bench.css") as style:
        assert style.status_code == 200
    assert sign_in(client) == 302
    assert client.get("/families/").status_code == 200


@pytest.mark.parametrize(
    "following", ["https://else.where/", "//else.where", "/\\else.where", "else", "/a\nb"]
)
def test_sign_in_leads_to_no_other_site(shop: Callable[..., FlaskClient], following: str) -> None:
    response = shop().post("/sign-in", data={"passphrase": WORDS, "next": following})
    assert response.location == "/"


def test_guessing_is_stopped_and_may_go_on_later() -> None:
    now = [0.0]
    access = Access(HASH, clock=lambda: now[0])
    assert [access.enter("a", "wrong") for _ in range(TRIES)] == [False] * TRIES
    assert access.enter("a", WORDS) is None
    assert access.enter("b", WORDS)
    now[0] = PER_SECONDS + 1
    assert access.enter("a", WORDS)
    assert [access.enter("a", "wrong") for _ in range(TRIES)] == [
        False
    ] * TRIES  # the old tries are forgotten


def test_page_says_when_there_were_too_many_tries(shop: Callable[..., FlaskClient]) -> None:
    client = shop()
    assert [sign_in(client, "wrong") for _ in range(TRIES + 1)] == [403] * TRIES + [429]
    assert sign_in(client) == 429


@pytest.mark.parametrize(("address", "own"), [
    ("127.0.0.1", True), ("127.8.8.8", True), ("::1", True), ("::ffff:127.0.0.1", True),
    ("192.168.7.20", False), ("::ffff:192.168.7.20", False), ("fe80::1", False), ("", False), (None, False),
])  # fmt: skip
def test_this_computer_is_known_by_its_address(address: str | None, own: bool) -> None:
    assert is_this_computer(address) is own


def test_hash_is_kept_for_its_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "settings/passphrase"
    keep_hash(path, WORDS)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert check_password_hash(read_private(path), WORDS)
    assert read_private(path).startswith("scrypt:")
    keep_hash(path, "")
    assert read_private(path) == ""


def test_short_passphrases_are_refused(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from click.testing import CliRunner

    from web.cli.main import main

    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    short = CliRunner().invoke(main, ["passphrase"], input=2 * ("x" * (SHORTEST - 1) + "\n"))
    assert short.exit_code == 1
    assert "too short" in short.output
    kept = CliRunner().invoke(main, ["passphrase"], input=2 * f"{WORDS}\n")
    assert kept.exit_code == 0
    assert check_password_hash(read_private(tmp_path / "benchlore/passphrase"), WORDS)
    assert CliRunner().invoke(main, ["passphrase", "--remove"]).exit_code == 0
    assert read_private(tmp_path / "benchlore/passphrase") == ""
