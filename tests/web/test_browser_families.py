"""The family pages in a real browser: found as typed, replayed in light, and on one sheet of paper."""

import re
from pathlib import Path

import pytest
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By

import kb
from kb.notebook import Notebook
from search.bench import Bench
from web.app import create_app

from .browser import MAY_SKIP, WHY, count_pages, emulate, press, printed, served, sized, wait

pytestmark = [pytest.mark.browser, pytest.mark.skipif(MAY_SKIP, reason=WHY)]

FAMILIES = sorted(path.stem.upper() for path in (Path(kb.__file__).parent / "demo/families").glob("*.md"))
HEIGHT = "return document.documentElement.scrollHeight"
SHOWN = "return [...document.querySelectorAll('#family-list a.big')].map((each) => each.textContent)"

# Presses the button, and answers when its lamp has been lit and gone dark so often.
WATCH = """
const [button, count, answer] = arguments;
const lamp = button.closest("[data-replays]").querySelector("[data-lamp]");
let flashes = 0;
let lit = false;
new MutationObserver((_, observer) => {
  const now = lamp.classList.contains("lit");
  if (lit && !now) flashes += 1;
  lit = now;
  if (flashes === count) { observer.disconnect(); answer(flashes); }
}).observe(lamp, { attributes: true, attributeFilter: ["class"] });
button.click();
"""


@pytest.mark.parametrize("family", FAMILIES)
def test_family_is_short_and_prints_on_one_a4_page(screen: Chrome, demo: str, family: str) -> None:
    screen.get(f"{demo}/families/{family}")
    # A screen and a half on the bench; three on a telephone, where it was 17.
    for width, height, screens in ((1280, 800, 1.5), (390, 844, 3)):
        sized(screen, width, height)
        assert screen.execute_script(HEIGHT) <= screens * height
    assert screen.find_element(By.ID, "known-h").location["y"] <= 844
    pdf = printed(screen)
    assert count_pages(pdf) == 1
    width, height = map(float, re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", pdf)[0])
    # ISO 216: A4 is 210 by 297 mm; a point is 25.4 / 72 mm.
    assert (width * 25.4 / 72, height * 25.4 / 72) == pytest.approx((210, 297), abs=1)


def test_hazards_are_named_and_spelt_out_on_a_press(screen: Chrome, demo: str) -> None:
    screen.get(demo + "/families/HV-L2")
    names = screen.find_element(By.CSS_SELECTOR, ".caution summary")
    sentences = screen.find_element(By.CSS_SELECTOR, ".caution ul")
    assert "stored charge" in names.text
    assert not sentences.is_displayed()
    names.click()
    assert sentences.is_displayed()


LONG_NOTE = """\
---
case: {case}
date: 2026-05-01
device: {word}
make: {word}
model: {word}
chassis_family: {word}
complaint: nothing
symptom: [no sound]
root_cause: {word}
board: {word}
blinks: 1+2+3+4+5+6
check: {word}
parts: [{word}]
fix_time: 60 min
outcome: fixed
---
"""


def test_words_without_a_space_do_not_widen_a_page(screen: Chrome, tmp_path: Path) -> None:
    word = "salt" * 20
    (tmp_path / "cases").mkdir()
    for number in range(6):
        case = f"20260501-a00{number}"
        (tmp_path / "cases" / f"{case}.md").write_text(LONG_NOTE.format(case=case, word=word), "utf-8")
    sized(screen, 320)
    with served(create_app(Bench(Notebook(tmp_path)), testing=True)) as where:
        for path in (f"/families/{word}", "/families/", "/weak-points", f"/families/{word}x", f"/?q={word}"):
            screen.get(where + path)
            screen.execute_script("document.querySelectorAll('main details').forEach(e => e.open = true)")
            assert screen.execute_script("return document.documentElement.scrollWidth") <= 320, path


def test_families_are_found_as_typed(screen: Chrome, demo: str) -> None:
    screen.get(demo + "/families/")
    assert len(screen.execute_script(SHOWN)) == len(FAMILIES)
    box = screen.find_element(By.ID, "find")
    box.send_keys("tarnbrok")
    wait(screen, lambda page: page.execute_script(SHOWN) == ["TN-D4", "TN-S3", "TN-W2"])
    assert screen.current_url.endswith("/families/?find=tarnbrok")
    assert screen.switch_to.active_element == box


def test_lamp_replays_the_pattern_unless_no_motion_is_wanted(screen: Chrome, demo: str) -> None:
    screen.get(demo + "/families/HV-L2")
    press(screen, ".blink-row summary")
    button = screen.find_element(By.CSS_SELECTOR, "[data-steps]")
    screen.set_script_timeout(30)
    assert screen.execute_async_script(WATCH, button, 2) == 2
    assert button.get_attribute("aria-pressed") == "true"
    emulate(screen, prefers_reduced_motion="reduce")
    wait(screen, lambda page: button.get_attribute("aria-pressed") == "false")
    assert not any(each.is_displayed() for each in screen.find_elements(By.CSS_SELECTOR, "[data-steps]"))
    # Even a press that gets through, as from a script, lights nothing.
    screen.execute_script("arguments[0].click()", button)
    assert not screen.find_elements(By.CSS_SELECTOR, ".lamp.lit")
    # The still row of lamps says the same.
    assert screen.find_element(By.CSS_SELECTOR, ".blink-row .lamps").is_displayed()


def test_printed_sheet_keeps_the_main_facts(screen: Chrome, demo: str) -> None:
    emulate(screen, media="print")
    screen.get(f"{demo}/families/HV-L2")
    main = screen.execute_script("return document.querySelector('main').innerText")
    for fact in ("Mains", "Before power", "Tell the owner", "LED strip open circuit", "11 of 33",
                 "backlight protection", "1000uF 16V", "Such a repair usually costs"):  # fmt: skip
        assert fact.lower() in main.lower()
    assert "prove it dead with a meter" in main
    for unprinted in ("Only some cases", "How sure is this?"):
        assert unprinted not in main
