"""Saves are searchable at once, seen from every bench, and recorded in git when that is asked for."""

from collections.abc import Callable
from pathlib import Path

from flask import Flask

from tests.web.api.test_search_and_cases import NEW

from ..reading_pages import form_values
from ..repositories import git

CASE = "20260318-k7f2"


def test_two_benches_share_one_notebook(make_app: Callable[..., Flask]) -> None:
    one, other = make_app().test_client(), make_app().test_client()
    case_id = one.post("/api/cases", json=NEW).get_json()["case"]
    assert other.get(f"/cases/{case_id}").status_code == 200
    assert f"/cases/{case_id}" in other.get("/?q=bridge+rectifier").text


def test_each_save_is_one_commit_by_its_technician(make_app: Callable[..., Flask], repository: Path) -> None:
    client = make_app(git=True).test_client()
    case_id = client.post("/api/cases", json={**NEW, "tech": "AM"}).get_json()["case"]
    assert git(repository, "log", "-1", "--format=%an %s").startswith(f"AM Write up {case_id}")
    assert git(repository, "show", "--format=", "--name-only").split() == [f"cases/2026/{case_id}.md"]
    client.put(f"/api/cases/{CASE}", json={"proof": "a day"})
    assert git(repository, "log", "-1", "--format=%s").strip() == f"Revise {CASE}"
    assert git(repository, "status", "--porcelain", "--untracked-files=no") == ""


def test_removing_and_putting_back_are_commits_too(make_app: Callable[..., Flask], repository: Path) -> None:
    app = make_app(git=True)
    app.config["WTF_CSRF_ENABLED"] = False
    client = app.test_client()
    client.post(f"/cases/{CASE}/remove")
    assert git(repository, "log", "-1", "--format=%s").strip() == f"Take {CASE} out"
    client.post(f"/removed/{CASE}/restore")
    assert git(repository, "log", "-1", "--format=%s").strip() == f"Put {CASE} back"


def test_git_that_fails_is_said_and_the_note_is_safe(make_app: Callable[..., Flask], root: Path) -> None:
    app = make_app(git=True)
    app.config["WTF_CSRF_ENABLED"] = False
    client = app.test_client()
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    form["proof"] = "a whole week"
    response = client.post(f"/cases/{CASE}/edit", data=form, follow_redirects=True)
    assert "not committed" in response.text
    assert "a whole week" in (root / f"cases/2026/{CASE}.md").read_text()
