"""Several benches at once, servers killed, editors at work, disks that fail: nothing lost, nothing wrong."""

import contextlib
import errno
import html
import http.client
import io
import json
import os
import random
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from kb.notebook import Notebook
from search.bench import Bench

from .notes import TYPED
from .processes import PATIENCE_S, Server, command, post_case, serving
from .reading_pages import form_values

BODY = "measured twice, and once more with the cover on\n" * 40
EACH_WRITES = 5
ROUNDS = 6
WORDS = ("amber", "birch", "cedar", "dogwood", "elder", "fir", "gorse", "hazel")


def a_case(writer: str, number: int) -> dict[str, object]:
    """Return a case that says who wrote it, in words that are found again."""
    return {
        "date": "2026-06-21",
        "device": "LED TV",
        "chassis_family": f"FAM-{writer}",
        "complaint": f"set of {writer} is dead",
        "symptom": ["dead"],
        "root_cause": f"{writer} fuse {number} open",
        "fix_time": 5,
        "outcome": "fixed",
        "body": BODY,
    }


def empty_root(tmp_path: Path) -> Path:
    (tmp_path / "bench/cases").mkdir(parents=True)
    return tmp_path / "bench"


def whole_notes(root: Path) -> dict[str, str]:
    """Read every note, and give its cause by its number; one that is not whole raises."""
    nb = Notebook(root)
    notes = [nb.read_case(relpath) for relpath in nb.scan()]
    assert all(note.body.strip() == BODY.strip() and note.complaint for note in notes)
    assert len({note.case for note in notes}) == len(notes)
    return {note.case: note.root_cause for note in notes}


def cases_of(answer: dict[str, object]) -> set[str]:
    """Return the numbers of the cases in an answer; of a note that cannot be read, its file."""
    return {case["case"] or case["file"] for case in answer["cases"]}  # type: ignore[attr-defined]


def found_in(server: Server, **query: object) -> set[str]:
    return cases_of(server.get("/api/search", limit=200, **query))


def until_found(server: Server, wanted: set[str], **query: object) -> set[str]:
    """Ask again until the server has taken in what others wrote; return its last answer.

    A server looks at the notes once a second, not at every request.
    """
    give_up = time.monotonic() + PATIENCE_S
    while (found := found_in(server, **query)) != wanted and time.monotonic() < give_up:
        pass
    return found


def test_eight_writers_at_two_servers_lose_and_double_nothing(tmp_path: Path) -> None:
    root = empty_root(tmp_path)
    with serving(root, 2) as servers:

        def write(writer: int) -> list[str]:
            with servers[writer % 2].connected() as connection:
                return [post_case(connection, a_case(WORDS[writer], number)) for number in range(EACH_WRITES)]

        with ThreadPoolExecutor(8) as pool:
            given = dict(zip(WORDS, pool.map(write, range(8)), strict=True))

        notes = whole_notes(root)
        assert len(notes) == 8 * EACH_WRITES
        assert set(notes) == {case for cases in given.values() for case in cases}
        wanted = sorted(f"{word} fuse {number} open" for word in WORDS for number in range(EACH_WRITES))
        assert sorted(notes.values()) == wanted
        for server in servers:
            for word in WORDS:
                assert until_found(server, set(given[word]), family=f"FAM-{word}") == set(given[word])
    bench = Bench(Notebook(root))
    for word in WORDS:
        assert cases_of(bench.answer("", family=f"FAM-{word}", limit=200).as_json()) == set(given[word])


def save_until_killed(server: Server, starts: int, writer: int, saved: dict[str, str]) -> None:
    with server.connected() as connection:
        for number in range(1000):
            fields = a_case(WORDS[writer], 1000 * starts + number)
            try:
                case = post_case(connection, fields)
            except (OSError, http.client.HTTPException):
                return
            saved[case] = str(fields["root_cause"])


def test_killed_servers_lose_no_acknowledged_case(tmp_path: Path) -> None:
    root = empty_root(tmp_path)
    chance = random.Random(20260318)
    saved: dict[str, str] = {}
    for number in range(ROUNDS):
        with serving(root) as (server,):
            writers = [
                threading.Thread(target=save_until_killed, args=(server, number, writer, saved))
                for writer in range(4)
            ]
            enough = len(saved) + chance.randrange(2, 12)
            for writer in writers:
                writer.start()
            while len(saved) < enough and any(writer.is_alive() for writer in writers):
                writers[0].join(chance.random() / 100)  # waits a moment, and so kills at any point of a save
            server.kill()
            for writer in writers:
                writer.join()
            notes = whole_notes(root)
            assert {case: notes.get(case) for case in saved} == saved
    assert len(saved) > 2 * ROUNDS
    notes = whole_notes(root)
    assert len(notes) <= len(saved) + 4 * ROUNDS  # beside them only saves that were cut off before the answer
    assert len(set(notes.values())) == len(notes)  # and none of them twice
    assert command(root, ["index"]).returncode == 0
    with serving(root) as (server,):
        for word in WORDS[:4]:
            mine = {case for case, cause in notes.items() if cause.startswith(word)}
            assert found_in(server, family=f"FAM-{word}") == mine
    table = Bench(Notebook(root)).knowledge.table
    assert {table.ids[row] for row in range(table.size) if table.alive[row]} == set(notes)


def test_command_line_works_while_a_server_saves(tmp_path: Path) -> None:
    root = empty_root(tmp_path)
    with serving(root) as (server,), server.connected() as connection:
        before = {post_case(connection, a_case("birch", number)) for number in range(3)}
        meanwhile: list[str] = []
        done = threading.Event()

        def write() -> None:
            while not done.is_set() and len(meanwhile) < 150:
                meanwhile.append(post_case(connection, a_case("cedar", len(meanwhile))))

        writer = threading.Thread(target=write)
        writer.start()
        try:
            for words in (["index"], ["index", "--rebuild"]):
                indexed = command(root, words)
                assert indexed.returncode == 0, indexed.stderr
            checked = command(root, ["check"])
            told = [line for line in checked.stdout.splitlines() if ".md:" in line]
            assert all("has no family note" in line for line in told), told
            asked = command(root, ["search", "--json", "--family", "FAM-birch", "dead"])
            assert asked.returncode == 0, asked.stderr
            assert before <= cases_of(json.loads(asked.stdout))
        finally:
            done.set()
            writer.join()
        assert meanwhile
        assert set(whole_notes(root)) == before | set(meanwhile)
        assert found_in(server, family="FAM-cedar") == set(meanwhile)


def test_server_follows_an_editor(tmp_path: Path) -> None:
    root = empty_root(tmp_path)
    with serving(root) as (server,), server.connected() as connection:
        kept, going = (post_case(connection, a_case("hazel", number)) for number in range(2))
        note = root / f"cases/2026/{kept}.md"
        text = note.read_text(encoding="utf-8")

        note.write_text(text.replace("FAM-hazel", "FAM-rowan"), encoding="utf-8")
        assert until_found(server, {kept}, family="FAM-rowan") == {kept}

        added = root / "cases/2026/20260101-add2.md"
        added.write_text(
            text.replace(kept, "20260101-add2").replace("FAM-hazel", "FAM-yew"), encoding="utf-8"
        )
        assert until_found(server, {"20260101-add2"}, family="FAM-yew") == {"20260101-add2"}

        (root / f"cases/2026/{going}.md").unlink()
        assert until_found(server, {kept}, family="FAM-rowan") == {kept}
        assert going not in until_found(server, {kept, "20260101-add2"}, q="hazel set dead")

        added.write_text(text[: len(text) // 20], encoding="utf-8")  # an editor that has only begun to write
        assert "20260101-add2.md" in server.get("/attention")
        half = {kept, "cases/2026/20260101-add2.md"}
        assert until_found(server, half, q="hazel set dead") == half  # found by its words, to be mended
        added.write_text(text.replace(kept, "20260101-add2"), encoding="utf-8")
        wanted = {kept, "20260101-add2"}
        assert until_found(server, wanted, q="hazel set dead") == wanted
        assert "has no family note" in server.get("/attention")
        assert "closed" not in server.get("/attention")


AS_JSON: dict[str, object] = {
    **a_case("pine", 1), "complaint": "posted while the disk was failing", "body": ""
}  # fmt: skip
CASE = "20260318-k7f2"
FULL = "the disk is full; free some space and save again"
READ_ONLY = "the disk can only be read; make it writable and save again"
AWAY = "the folder is gone; put the notebook back, then repeat this"
GONE = "the folder is gone; put the notebook back and save again"


@contextlib.contextmanager
def failing_disk(root: Path, number: int, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Refuse, with this error of the system, all that would write below a folder."""
    real = {"open": os.open, "mkdir": os.mkdir, "replace": os.replace, "rename": os.rename}

    def refuse(path: object) -> None:
        if str(path).startswith(str(root)):
            raise OSError(number, os.strerror(number), str(path))

    def open_handle(path: object, flags: int, *rest: Any, **named: Any) -> int:
        if flags & (os.O_WRONLY | os.O_RDWR):
            refuse(path)
        return real["open"](path, flags, *rest, **named)  # type: ignore[no-any-return,operator]

    def open_file(path: object, mode: str = "r", *rest: Any, **named: Any) -> Any:
        if set(mode) & set("wxa+"):
            refuse(path)
        return io_open(path, mode, *rest, **named)  # type: ignore[call-overload]

    def changing(name: str) -> Callable[..., object]:
        def change(path: object, *rest: Any, **named: Any) -> object:
            refuse(path)
            return real[name](path, *rest, **named)  # type: ignore[operator]

        return change

    io_open = io.open
    with monkeypatch.context() as broken:
        broken.setattr(os, "open", open_handle)
        broken.setattr(io, "open", open_file)
        for name in ("mkdir", "replace", "rename"):
            broken.setattr(os, name, changing(name))
        yield


@contextlib.contextmanager
def taken_away(root: Path) -> Iterator[None]:
    """Take a notebook away, as a pulled-out stick does, and put it back."""
    kept = root.rename(root.with_name("on the stick"))
    yield
    assert not root.exists(), "the notebook was made anew, empty"
    kept.rename(root)


def all_notes(root: Path) -> dict[str, bytes]:
    return {
        str(path): path.read_bytes() for top in ("cases", "families") for path in (root / top).rglob("*.md")
    }


def told(text: str) -> str:
    """Return a page's text as it is read."""
    return html.unescape(text)


@pytest.mark.parametrize(
    ("trouble", "says"),
    [
        pytest.param(errno.ENOSPC, FULL, id="disk-full"),
        pytest.param(errno.EROFS, READ_ONLY, id="read-only"),
        pytest.param(0, GONE, id="taken-away"),
    ],
)
def test_failing_disk_is_told_and_nothing_typed_is_lost(
    client: FlaskClient, root: Path, monkeypatch: pytest.MonkeyPatch, trouble: int, says: str
) -> None:
    edited = form_values(client.get(f"/cases/{CASE}/edit").text)
    edited["proof"] = "soaked for two days"
    family = form_values(client.get("/families/HV-L2/edit").text)
    family["body"] = "Back held by 15 screws."
    mended = form_values(client.get("/attention/note?file=cases/2026/20260620-c5pp.md").text)
    mended["text"] = mended["text"].replace("tech: JS", "tech: QQ")
    forms = {
        "/cases/new": ({**TYPED}, "kettle noise, then nothing at all"),
        f"/cases/{CASE}/edit": (edited, "soaked for two days"),
        "/families/HV-L2/edit": (family, "Back held by 15 screws."),
        "/families/new": ({"chassis_family": "ZZ-9", "device": "slate clock"}, "slate clock"),
        "/attention/note": (mended, "tech: QQ"),
    }
    before = all_notes(root)
    again = {}
    with failing_disk(root, trouble, monkeypatch) if trouble else taken_away(root):
        for address, (typed, kept) in forms.items():
            response = client.post(address, data=typed)
            assert response.status_code == 503, address
            assert says in told(response.text), address
            assert kept in told(response.text), address
            again[address] = form_values(response.text)
        posted = client.post("/api/cases", json=AS_JSON)
        assert (posted.status_code, posted.json is not None) == (503, True)
        assert (says if trouble else AWAY) in posted.json["error"]["message"]
        put = client.put(f"/api/cases/{CASE}", json={"tech": "JS"})
        assert put.status_code == 503
        for address in ("/attention/merge", f"/cases/{CASE}/remove"):
            pressed = client.post(address, data={"into": "relay stuck", "from": "PFC MOSFET shorted"})
            assert pressed.status_code == 503
            assert (says if trouble else AWAY) in told(pressed.text)
        with client.get("/static/bench.css") as looks:  # what an error page needs to be read
            assert looks.status_code == 200
        if trouble:  # searching goes on all the same
            assert "PFC MOSFET shorted" in client.get("/?q=went+off+with+a+pop").text
    assert all_notes(root) == before
    for address, form in again.items():
        assert client.post(address, data=form).status_code == 302, address
    assert client.post("/api/cases", json=AS_JSON).status_code == 201
    assert len(all_notes(root)) == len(before) + 3
    for complaint, cause in (("kettle noise", TYPED["root_cause"]), ("failing disk", AS_JSON["root_cause"])):
        found = client.get("/api/search", query_string={"q": complaint}).json
        assert found is not None
        assert found["cases"][0]["root_cause"] == cause
    assert Notebook(root).read_case(f"cases/2026/{CASE}.md").proof == "soaked for two days"
    assert Notebook(root).families()["HV-L2"].body == "Back held by 15 screws."


def test_clock_set_back_loses_and_hides_nothing(
    client: FlaskClient, root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Save and edit with the clock, and the times it gives to files, a year behind."""
    back_ns = 365 * 24 * 3600 * 10**9
    now_ns, now_s = time.time_ns, time.time
    monkeypatch.setattr(time, "time_ns", lambda: now_ns() - back_ns)
    monkeypatch.setattr(time, "time", lambda: now_s() - back_ns / 1e9)
    assert client.post("/cases/new", data=TYPED).status_code == 302
    assert "bridge rectifier shorted" in client.get("/?q=noise,+then+nothing+at+all").text
    note = root / f"cases/2026/{CASE}.md"
    text = note.read_text(encoding="utf-8")
    for cause in ("zener leaking", "varistor open"):  # equally long: only time and content differ
        note.write_text(text.replace("PFC MOSFET shorted", f"{cause:<18}"), encoding="utf-8")
        os.utime(note, ns=(time.time_ns(), time.time_ns()))
        assert client.get(f"/api/cases/{CASE}").json["root_cause"] == cause  # type: ignore[index]
        causes = client.get("/api/search?q=went+off+with+a+pop").json["causes"]  # type: ignore[index]
        assert cause in [each["root_cause"] for each in causes]
    form = form_values(client.get(f"/cases/{CASE}/edit").text)
    form["root_cause"] = "relay stuck"
    assert client.post(f"/cases/{CASE}/edit", data=form).status_code == 302
    assert "relay stuck" in client.get("/?q=went+off+with+a+pop").text
