"""Measure how long a technician waits: a search in the server, and `benchlore search` from start to answer.

Run by hand, with nothing else at work: python -m tests.benchmarks.web_times
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

from kb.notebook import open_demo
from search.bench import Bench
from web.app import create_app

QUESTIONS = (
    "dead, went off with a pop, three flashes",
    "no picture but sound",
    "hums and trips the fuse board",
    "light blinks six times, Halvern 43",
    "does not drain, smells of burning",
    "one speaker crackles",
)
ROUNDS = 5


def milliseconds(started: float) -> float:
    return (time.perf_counter() - started) * 1000


def main() -> None:
    client = create_app(Bench(open_demo())).test_client()
    client.get("/?q=warm")
    for path in ("/", "/api/search"):
        times = []
        for _ in range(ROUNDS):
            for question in QUESTIONS:
                started = time.perf_counter()
                response = client.get(path, query_string={"q": question})
                times.append(milliseconds(started))
                assert response.status_code == 200
        print(f"GET {path}?q=...: median {statistics.median(times):.1f} ms, slowest {max(times):.1f} ms")
    command = [sys.executable, "-m", "web.cli", "search", "--demo", QUESTIONS[0]]
    for what in ("first start on the demo", *("start with its index there",) * ROUNDS):
        started = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        print(f"benchlore search, {what}: {milliseconds(started):.0f} ms")


if __name__ == "__main__":
    main()
