"""Headless Chromium for the browser tests, and a server for it to talk to."""

import base64
import os
import re
import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from flask import Flask
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait
from werkzeug.serving import make_server

CHROMIUM = shutil.which("chromium")
CHROMEDRIVER = shutil.which("chromedriver")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",  # no page may reach another computer
)
# In continuous integration a missing browser is a failure, not a reason to look away.
MAY_SKIP = not (CHROMIUM and CHROMEDRIVER) and not os.environ.get("CI")
WHY = "Chromium or chromedriver is not installed"
WAIT_S = 60.0


def start_chromium(profile: Path, *, width: int = 1280) -> Chrome:
    """Start Chromium with a fresh profile."""
    options = Options()
    options.binary_location = CHROMIUM or "chromium"
    for flag in (*FLAGS, f"--user-data-dir={profile}", f"--window-size={width},900"):
        options.add_argument(flag)
    return Chrome(options=options, service=Service(CHROMEDRIVER or "chromedriver"))


@contextmanager
def served(app: Flask, *, port: int = 0) -> Iterator[str]:
    """Serve an app on this computer and give its address."""
    server = make_server("127.0.0.1", port, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def complaints(page: Chrome) -> list[str]:
    """Return what the browser complained of since it was asked last: blocked, unreachable, failed.

    A page that says itself what was wrong (404, 409, 422) is no complaint.
    """
    said = [entry["message"] for entry in page.get_log("browser")]
    return [each for each in said if not re.search(r"status of 4(04|09|22)", each)]


def wait(page: Chrome, happens: Callable[[Chrome], object]) -> None:
    """Wait until something happens on the page."""
    WebDriverWait(page, WAIT_S, poll_frequency=0.05).until(happens)


def box(page: Chrome, name: str) -> str:
    """Return what stands in a box."""
    return page.find_element(By.NAME, name).get_attribute("value") or ""


def press(page: Chrome, selector: str) -> None:
    """Press the first thing of a kind with the mouse."""
    page.find_element(By.CSS_SELECTOR, selector).click()


def keys(page: Chrome, *pressed: str) -> None:
    """Press keys, wherever the focus is."""
    ActionChains(page).send_keys(*pressed).perform()


def tab_to(page: Chrome, selector: str) -> None:
    """Press Tab until the focus is on a thing of a kind."""
    for _ in range(80):
        if page.switch_to.active_element in page.find_elements(By.CSS_SELECTOR, selector):
            return
        keys(page, Keys.TAB)
    raise AssertionError(f"Tab does not lead to {selector}")


def sized(page: Chrome, width: int, height: int = 800) -> None:
    """Make the view so large; a window cannot be made as narrow as a telephone."""
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
    page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def emulate(page: Chrome, *, media: str = "", **features: str) -> None:
    """Show the page as a person wishes in the settings of the system, or as it prints."""
    asked = [{"name": name.replace("_", "-"), "value": value} for name, value in features.items()]
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": media, "features": asked})


def printed(page: Chrome) -> bytes:
    """Return the page as it prints (PDF)."""
    made = page.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    return base64.b64decode(made["data"])


def count_pages(pdf: bytes) -> int:
    """Return the number of pages of a PDF (ISO 32000-1, 7.7.3.3: each is an object of the type Page)."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))
