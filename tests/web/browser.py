"""Headless Chromium for the browser tests, and a server for it to talk to."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from flask import Flask
from selenium.webdriver import Chrome
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
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
)
# In continuous integration a missing browser is a failure, not a reason to look away.
MAY_SKIP = not (CHROMIUM and CHROMEDRIVER) and not os.environ.get("CI")
WHY = "Chromium or chromedriver is not installed"
WAIT_S = 10.0


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
