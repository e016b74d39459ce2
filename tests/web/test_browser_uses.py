"""The three uses from end to end, by mouse and by keyboard alone: a repair, a family, a count of flashes."""

from pathlib import Path
from urllib.parse import urlsplit

import pytest
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By

from .browser import MAY_SKIP, WHY, box, count_pages, keys, press, printed, tab_to, wait

pytestmark = [pytest.mark.browser, pytest.mark.skipif(MAY_SKIP, reason=WHY)]

COMPLAINT = "HV-43L2 dead, dark screen, flashes three times"
CAUSE, OTHER = "PFC MOSFET shorted", "backlight string open"


def at(page: Chrome) -> str:
    return page.execute_script("return document.activeElement.closest('[data-key]')?.dataset.key") or ""


def walk_to(page: Chrome, key: str, stop: str) -> None:
    for _ in range(8):
        if at(page) == stop:
            return
        keys(page, key)
    raise AssertionError(f"{key} does not lead to {stop}")


def live(page: Chrome) -> str:
    return page.find_element(By.CSS_SELECTOR, "[data-live]").get_attribute("textContent") or ""


def newest(root: Path) -> str:
    return max((root / "cases").rglob("*.md"), key=lambda path: path.stat().st_mtime_ns).read_text("utf-8")


def assert_written(page: Chrome, root: Path) -> None:
    wait(page, lambda page: urlsplit(page.current_url).path.startswith("/cases/20"))
    note = newest(root)
    for said in (
        f"complaint: {COMPLAINT}",
        f"root_cause: {CAUSE}",
        "chassis_family: HV-L2",
        "fix_time: 40 min",
    ):
        assert said in note
    assert "0.4 ohm" in note
    assert f"{OTHER}: not it" in note


def test_repair_by_keyboard_alone(page: Chrome, root: Path) -> None:
    """Typed, ruled out, undone, measured, found, written up; nothing is loaded anew before the write-up."""
    page.execute_script("window.sameLoad = true")
    assert page.switch_to.active_element.get_attribute("id") == "q"
    keys(page, COMPLAINT, Keys.ENTER)
    wait(page, lambda page: "q=HV-43L2+dead" in page.current_url and at(page) == "top")
    keys(page, "j")
    assert at(page) == f"check {CAUSE}"
    keys(page, "n")
    wait(page, lambda page: "rule_out=PFC+MOSFET+shorted" in page.current_url)
    assert at(page).startswith("check ")
    keys(page, "u")
    wait(page, lambda page: "rule_out" not in page.current_url)
    keys(page, Keys.ENTER, "0.4 ohm", Keys.ESCAPE)
    wait(page, lambda page: "noted=0.4+ohm" in page.current_url)
    walk_to(page, "j", f"cause {OTHER}")
    keys(page, "n")
    wait(page, lambda page: "rule_out=backlight+string+open" in page.current_url)
    walk_to(page, "k", f"check {CAUSE}")
    keys(page, "f")
    wait(page, lambda page: "found=PFC+MOSFET+shorted" in page.current_url and at(page) == "write")
    assert page.execute_script("return window.sameLoad"), "the page was loaded anew"
    keys(page, Keys.ENTER)
    wait(page, lambda page: page.find_elements(By.NAME, "fix_time"))
    tab_to(page, "[name=fix_time]")
    keys(page, "40 min", Keys.ENTER)
    wait(page, lambda page: page.find_elements(By.ID, "alike") or "/cases/20" in page.current_url)
    if page.find_elements(By.ID, "alike"):
        tab_to(page, "[name=all_the_same]")
        keys(page, Keys.ENTER)
    assert_written(page, root)


def test_repair_by_mouse(page: Chrome, root: Path) -> None:
    """Only what is said and measured is typed; each press keeps its place and is announced."""
    page.execute_script("window.sameLoad = true")
    page.find_element(By.ID, "q").send_keys(COMPLAINT)
    press(page, ".ask > .press")
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".next [data-not]"))
    press(page, ".next [data-not]")
    wait(page, lambda page: "rule_out=PFC+MOSFET+shorted" in page.current_url)
    wait(page, lambda page: live(page).startswith(f"{CAUSE} ruled out; next: "))
    assert at(page).startswith("not ")
    press(page, "[data-undo]")
    wait(page, lambda page: "rule_out=" not in page.current_url)
    press(page, f"[data-key='cause {OTHER}'] > summary")
    press(page, f"[data-key='cause {OTHER}'] [data-not]")
    wait(page, lambda page: "rule_out=backlight+string+open" in page.current_url)
    page.find_element(By.CSS_SELECTOR, ".next [name=noted]:not([type=hidden])").send_keys("0.4 ohm")
    press(page, ".next [data-found]")
    wait(page, lambda page: "found=PFC+MOSFET+shorted" in page.current_url and "noted=" in page.current_url)
    assert page.execute_script("return window.sameLoad"), "the page was loaded anew"
    press(page, "[data-key=write]")
    wait(page, lambda page: page.find_elements(By.NAME, "fix_time"))
    assert box(page, "root_cause") == CAUSE
    page.find_element(By.NAME, "fix_time").send_keys("40 min")
    press(page, ".send .strong")
    wait(page, lambda page: page.find_elements(By.ID, "alike") or "/cases/20" in page.current_url)
    if page.find_elements(By.ID, "alike"):
        press(page, "[name=all_the_same]")
    assert_written(page, root)


@pytest.mark.parametrize("by", ["mouse", "keyboard"])
def test_family_is_browsed_opened_and_printed(page: Chrome, by: str) -> None:
    def go(selector: str) -> None:
        if by == "mouse":
            press(page, selector)
        else:
            tab_to(page, selector)
            keys(page, Keys.ENTER)

    go("nav a[href='/families/']")
    wait(page, lambda page: page.find_elements(By.ID, "find"))
    tab_to(page, "#find") if by == "keyboard" else press(page, "#find")
    keys(page, "halvern")
    wait(page, lambda page: page.current_url.endswith("find=halvern"))
    go("#family-list a")
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, "[data-print]"))
    page.execute_script("window.print = () => { window.wasPrinted = true; }")
    go("[data-print]")
    assert page.execute_script("return window.wasPrinted")
    assert count_pages(printed(page)) == 1


def flash(page: Chrome, by: str) -> None:
    """Press the pad once, as long as a short flash."""
    pad = page.find_element(By.CSS_SELECTOR, "[data-pad]")
    if by == "keyboard":
        ActionChains(page).key_down("x").pause(0.05).key_up("x").perform()
    elif by == "mouse":
        ActionChains(page).click_and_hold(pad).pause(0.05).release().perform()
    else:
        place = {"x": pad.rect["x"] + 20, "y": pad.rect["y"] + 20 - page.execute_script("return scrollY")}
        page.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [place]})
        page.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


@pytest.mark.parametrize("by", ["keyboard", "mouse", "touch"])
def test_flashes_are_counted_and_answered(page: Chrome, by: str) -> None:
    if by == "keyboard":
        tab_to(page, "[data-count]")
        keys(page, Keys.ENTER)
        assert page.switch_to.active_element == page.find_element(By.CSS_SELECTOR, "[data-pad]")
    else:
        press(page, "[data-count]")
    flash(page, by)
    flash(page, by)
    use = page.find_element(By.CSS_SELECTOR, "[data-count-use]")
    wait(page, lambda page: use.is_enabled())
    if by == "keyboard":
        tab_to(page, "[data-count-use]")
        keys(page, Keys.ENTER)
    else:
        use.click()
    wait(page, lambda page: "blinks=2" in page.current_url)
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".cause-name, .first-causes"))
    assert not page.find_element(By.ID, "count").is_displayed()
