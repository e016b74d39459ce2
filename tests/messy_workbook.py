"""A made-up old list as shops keep them: days as dates and as texts, gaps, and rows that make no case."""

import datetime
import random
from pathlib import Path

from openpyxl import Workbook

HEADER = ("Job no.", "Date", "Appliance", "Brand", "Chassis", "Problem", "Symptoms", "Cause", "Work done",
          "Labour (h)", "Result", "Notes", None)  # fmt: skip
FAULTS = (
    ("dead, three flashes", "dead", "PFC MOSFET shorted", "Q801 and fuse replaced"),
    ("picture dark, sound ok", "no backlight", "backlight string open", "two strips fitted"),
    ("does not drain", "does not drain", "drain pump jammed", "hairpin out of the pump"),
)
BAD_EVERY = 50  # every so many rows one makes no case


def write_messy_workbook(path: Path, rows: int) -> int:
    """Write an xlsx workbook with so many rows and return how many of them make no case."""
    chance = random.Random(rows)
    book = Workbook(write_only=True)
    sheet = book.create_sheet("jobs")
    sheet.append(HEADER)
    bad = 0
    for number in range(rows):
        said, symptom, cause, fix = FAULTS[number % 3]
        day = datetime.date(2015, 1, 1) + datetime.timedelta(days=number % 4000)
        cells: list[object] = [
            number, day if number % 2 else day.isoformat(), "LED TV", chance.choice(("Halvern", "")),
            f" F-{number % 40} ", said, symptom, cause, fix, round(chance.uniform(0.3, 2.5), 2),
            chance.choice(("repaired", "OK", "fixed", "BER", "not repaired")),
            f"job {number}: {chance.choice(('soak tested', 'ran for an hour', 'nothing else'))}", None,
        ]  # fmt: skip
        if number % BAD_EVERY == 0:
            cells[1] = "some time in spring"
            bad += 1
        if number % BAD_EVERY == 25:
            sheet.append([])  # a blank line between two years
        sheet.append(cells)
    book.save(path)
    return bad
