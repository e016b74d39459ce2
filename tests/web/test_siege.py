"""Several benches at once, servers killed, editors at work, disks that fail: nothing lost, nothing wrong."""

from __future__ import annotations

import http.client
import json
import random
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from kb.notebook import Notebook
from search.bench import Bench

from .processes import PATIENCE_S, Server, command, post_case, serving

BODY = "measured twice, and once more with the cover on\n" * 40
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
                return [post_case(connection, a_case(WORDS[writer], number)) for number in range(50)]

        with ThreadPoolExecutor(8) as pool:
            given = dict(zip(WORDS, pool.map(write, range(8)), strict=True))

        notes = whole_notes(root)
        assert len(notes) == 400
        assert set(notes) == {case for cases in given.values() for case in cases}
        wanted = sorted(f"{word} fuse {number} open" for word in WORDS for number in range(50))
        assert sorted(notes.values()) == wanted
        for server in servers:
            for word in WORDS:
                assert until_found(server, set(given[word]), family=f"FAM-{word}") == set(given[word])
    bench = Bench(Notebook(root))
    for word in WORDS:
        assert cases_of(bench.answer("", family=f"FAM-{word}", limit=200).as_json()) == set(given[word])


def save_until_killed(server: Server, rounds: int, writer: int, saved: dict[str, str]) -> None:
    with server.connected() as connection:
        for number in range(1000):
            fields = a_case(WORDS[writer], 1000 * rounds + number)
            try:
                case = post_case(connection, fields)
            except (OSError, http.client.HTTPException):
                return
            saved[case] = str(fields["root_cause"])


def test_killed_servers_lose_no_acknowledged_case(tmp_path: Path) -> None:
    root = empty_root(tmp_path)
    chance = random.Random(20260318)
    saved: dict[str, str] = {}
    rounds = 0
    while len(saved) < 300:
        with serving(root) as (server,):
            writers = [
                threading.Thread(target=save_until_killed, args=(server, rounds, writer, saved))
                for writer in range(4)
            ]
            enough = len(saved) + chance.randrange(20, 70)
            for writer in writers:
                writer.start()
            while len(saved) < enough and any(writer.is_alive() for writer in writers):
                writers[0].join(chance.random() / 100)  # waits a moment, and so kills at any point of a save
            server.kill()
            for writer in writers:
                writer.join()
            rounds += 1
            notes = whole_notes(root)
            assert {case: notes.get(case) for case in saved} == saved
    assert rounds >= 4
    notes = whole_notes(root)
    assert len(notes) <= len(saved) + 4 * rounds  # beside them only saves that were cut off before the answer
    assert len(set(notes.values())) == len(notes)  # and none of them twice
    assert command(root, ["index"]).returncode == 0
    with serving(root) as (server,):
        for word in WORDS[:4]:
            mine = {case for case, cause in notes.items() if cause.startswith(word)}
            assert found_in(server, family=f"FAM-{word}") == mine
    table = Bench(Notebook(root)).snapshot.table
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
