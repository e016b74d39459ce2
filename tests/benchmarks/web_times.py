"""Measure how long a technician waits: a page's first paint, a search in the server, and `benchlore search`.

Run by hand, with nothing else at work: python -m tests.benchmarks.web_times. The first paint stands beside
that of an empty page of the same server in the same browser, which no page can be faster than.
"""

import statistics
import subprocess
import tempfile
import time
from pathlib import Path

from selenium.webdriver.support.ui import WebDriverWait

from kb.notebook import open_demo
from search.bench import Bench
from tests.web.browser import WAIT_S, served, start_chromium
from tests.web.processes import PROGRAM
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
PAGES = ("/", "/?q=dead,+three+flashes", "/families/HV-L2", "/cases/new")
EMPTY = "/empty"
FIRST_PAINT = (
    "return performance.getEntriesByName('first-contentful-paint')[0]?.startTime"  # W3C, Paint Timing
)


def milliseconds(started: float) -> float:
    return (time.perf_counter() - started) * 1000


def first_paints() -> None:
    """Print the first contentful paint of each page, and how many times that of an empty page it is."""
    app = create_app(Bench(open_demo()))
    app.add_url_rule(EMPTY, view_func=lambda: "<!doctype html><title>empty</title><p>empty")
    took: dict[str, list[float]] = {path: [] for path in (EMPTY, *PAGES)}
    with tempfile.TemporaryDirectory() as folder, served(app) as address:
        browser = start_chromium(Path(folder))
        try:
            for _ in range(2 * ROUNDS + 1):
                for path, times in took.items():
                    browser.get(address + path)
                    wait = WebDriverWait(browser, WAIT_S, poll_frequency=0.02)
                    times.append(wait.until(lambda page: page.execute_script(FIRST_PAINT)))
        finally:
            browser.quit()
    floor = statistics.median(took[EMPTY][1:])
    for path, (first, *later) in took.items():
        ms = statistics.median(later)
        times = f"{ms:.0f} ms, {ms / floor:.1f} of an empty page's; at first {first:.0f} ms"
        print(f"first paint of {path}: {times}")


def main() -> None:
    first_paints()
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
    command = [PROGRAM, "search", "--demo", QUESTIONS[0]]
    for what in ("first start on the demo", *("start with its index there",) * ROUNDS):
        started = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        print(f"benchlore search, {what}: {milliseconds(started):.0f} ms")


if __name__ == "__main__":
    main()
