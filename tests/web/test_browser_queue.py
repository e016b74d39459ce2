"""A write-up that is saved without a network is sent later, once, in a real browser."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from flask import Flask
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By

from .browser import MAY_SKIP, WHY, served, wait
from .test_browser_writing import KEPT

pytestmark = [pytest.mark.browser, pytest.mark.skipif(MAY_SKIP, reason=WHY)]

WAITING = "return JSON.parse(localStorage.getItem('benchlore-queue') || '[]').length"
TYPED = {"model": "HV-43L2", "device": "LED TV", "chassis_family": "HV-L2", "symptom": "sparks inside",
         "root_cause": "mica plate burnt", "fix_time": "15"}  # fmt: skip


@contextmanager
def no_network(page: Chrome) -> Iterator[None]:
    limits = {"latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}
    page.execute_cdp_cmd("Network.enable", {})
    page.execute_cdp_cmd("Network.emulateNetworkConditions", {"offline": True, **limits})
    try:
        yield
    finally:
        page.execute_cdp_cmd("Network.emulateNetworkConditions", {"offline": False, **limits})
        page.get_log("browser")  # that there was no network


def type_all(page: Chrome, address: str, **more: str) -> None:
    page.get(address + "/cases/new")
    for name, text in {**TYPED, **more}.items():
        page.find_element(By.NAME, name).clear()
        page.find_element(By.NAME, name).send_keys(text)


def save(page: Chrome) -> None:
    page.find_element(By.CSS_SELECTOR, ".send .strong").click()


def said(page: Chrome) -> str:
    return page.find_element(By.CSS_SELECTOR, "[data-queue-state]").text


def written(root: Path) -> list[Path]:
    return [path for path in (root / "cases").rglob("*.md") if "mica plate burnt" in path.read_text()]


def test_write_up_waits_for_the_network_and_is_sent_by_itself(page: Chrome, address: str, root: Path) -> None:
    type_all(page, address)
    with no_network(page):
        save(page)
        wait(page, lambda page: "1 write-up waits" in said(page))
        assert said(page).startswith("benchlore does not answer: this is sent by itself as soon as it does.")
        save(page)  # pressed again, it is still one
        wait(page, lambda page: page.execute_script(WAITING) == 1)
    wait(page, lambda page: "mica plate burnt" in page.title)
    assert len(written(root)) == 1
    assert page.execute_script(WAITING) == 0
    assert page.execute_script(KEPT) == ""


def test_queue_survives_a_server_restart_and_a_reload_and_sends_once(
    chromium: Chrome, make_app: Callable[..., Flask], root: Path
) -> None:
    with served(make_app()) as address:
        chromium.get(address)
        chromium.execute_script("localStorage.clear()")
        type_all(chromium, address)
        port = urlsplit(address).port or 0
    save(chromium)
    wait(chromium, lambda page: "1 write-up waits" in said(page))
    queue = chromium.execute_script("return localStorage.getItem('benchlore-queue')")
    with served(make_app(), port=port) as address:
        chromium.get(address + "/cases/new")
        wait(chromium, lambda page: "Sent and saved as" in said(page))
        assert len(written(root)) == 1
        # The answer to the first sending was lost: the browser sends the same again.
        chromium.execute_script("localStorage.setItem('benchlore-queue', arguments[0])", queue)
        chromium.refresh()
        wait(chromium, lambda page: "Sent and saved as" in said(page))
        assert len(written(root)) == 1
        assert chromium.execute_script(WAITING) == 0


@pytest.mark.parametrize("other", [False, True], ids=["its-own-draft", "a-draft-of-another"])
def test_write_up_with_a_fault_comes_back_as_a_draft(
    page: Chrome, address: str, root: Path, other: bool
) -> None:
    """A draft of another write-up is never replaced."""
    type_all(page, address, fix_time="soon")
    with no_network(page):
        save(page)
        wait(page, lambda page: "1 write-up waits" in said(page))
        if other:  # in another window; this one keeps no more
            page.execute_script(
                "document.querySelector('#write-up').dataset.sent = '';"
                "localStorage.setItem('benchlore-draft:new', arguments[0])",
                '{"typed": {"fix": "another"}, "once": "another"}',
            )
    page.execute_script("dispatchEvent(new Event('online'))")
    wait(page, lambda page: "has a question" in said(page))
    assert ("another" if other else "soon") in page.execute_script(KEPT)
    assert page.execute_script(WAITING) == (1 if other else 0)
    assert written(root) == []
