"""Make the small picture of the answer page that README shows: python -m tests.benchmarks.picture."""

import base64
import tempfile
from pathlib import Path
from urllib.parse import urlencode

from kb.notebook import open_demo
from search.bench import Bench
from tests.web.browser import served, start_chromium
from web.app import create_app

PICTURE = Path(__file__).parents[2] / "web" / "static" / "answer.webp"
ASKED = {"q": "clicks, then nothing, the little light flashes, three times maybe", "family": "HV-L2"}
WIDTH, HEIGHT, SCALE = 1280, 800, 0.75


def main() -> None:
    with tempfile.TemporaryDirectory() as folder, served(create_app(Bench(open_demo()))) as address:
        page = start_chromium(Path(folder))
        try:
            size = {"width": WIDTH, "height": HEIGHT, "deviceScaleFactor": SCALE, "mobile": False}
            page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
            page.execute_cdp_cmd("Emulation.setScrollbarsHidden", {"hidden": True})
            for _ in range(2):  # the first time, the server learns from the notebook
                page.get(f"{address}/?{urlencode(ASKED)}")
            shot = page.execute_cdp_cmd("Page.captureScreenshot", {"format": "webp", "quality": 60})
            paint = page.execute_script(
                "return performance.getEntriesByName('first-contentful-paint').map((each) => each.startTime)"
            )
        finally:
            page.quit()
    PICTURE.write_bytes(base64.b64decode(shot["data"]))
    print(f"{PICTURE.name}: {PICTURE.stat().st_size:,} bytes; first paint after {paint} ms")


if __name__ == "__main__":
    main()
