"""Make large notebooks of plausible notes for benchmarks: python -m tests.benchmarks.generate FOLDER COUNT.

The words come from kb/terms.toml and from a list of bench prose, as uneven as real ones: a few stand in most
notes, most in few. Families have their own habits of failing. The same seed makes the same notebook.
"""

import sys
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from kb.notebook import Notebook
from kb.terms import load_vocabulary

MAKES = ("Halvern", "Ostrel", "Corvessa", "Tressick", "Brackwater", "Tarnbrook")
DEVICES = ("LED TV", "monitor", "AV receiver", "microwave oven", "washing machine", "dehumidifier")
OUTCOMES = ("fixed",) * 17 + ("not fixed", "not economic", "no fault found")
BLINKS = ("", "", "", "2", "3", "4", "5", "6", "7", "2+3", "3 or 4", "2 long + 3 short")
_PROSE = """
    measured across against after again while under load cold warm first then found with the board
    out under a lens no continuity reading fell rose stayed steady scope showed ripple ohm volts
    rail standby main drive gate source drain base tracks pad via lifted resoldered reflowed cleaned
    alcohol brushed dried overnight replaced matched pair spare from donor salt air ferry rain
    kitchen guesthouse owner said bought used two winters ran soak test hours evening picture sound
    remote screws bottom row plastic clips careful flex cable ribbon foil connector wiggled tapped
    hot air iron paste thermal heatsink spring washer bulb limiter lamp dim bright went out slowly
    quick check diode mode beep shorted open leaky drifted value marked brown ring rust green crust
    next time look here before anything else saves half an hour do not trust the sheet count again
    in the dark
"""
PROSE = _PROSE.split()
LETTERS = np.array(list("ABCDEFGHJKLMNPRSTUVWXYZ"))
CROCKFORD = "0123456789abcdefghjkmnpqrstvwxyz"
FIRST_DAY = date(2000, 1, 1)


class Maker:
    """Draw words, families and faults at random, each by its own uneven shares."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        terms = load_vocabulary().terms
        self.symptoms = [phrase for term in terms if term.kind == "symptom" for phrase in term.phrases]
        self.parts = [phrase for term in terms if term.kind == "part" for phrase in term.phrases]
        self.boards = [phrase for term in terms if term.kind == "board" for phrase in term.phrases]
        self.faults = [phrase for term in terms if term.kind == "mechanism" for phrase in term.phrases]
        numbers = [
            f"{''.join(self.rng.choice(LETTERS, 2))}{number}" for number in self.rng.integers(100, 9999, 4000)
        ]
        self.words = [*PROSE, *self.rng.permutation([*self.symptoms, *self.parts, *numbers]).tolist()]
        shares = 1 / np.arange(2, len(self.words) + 2)
        self.shares = np.cumsum(shares / shares.sum())
        self.families = [self._family(number) for number in range(60)]

    def _family(self, number: int) -> dict[str, object]:
        make = MAKES[number % len(MAKES)]
        causes = [
            f"{self.one(self.parts)} {self.one(self.faults)}" for _ in range(int(self.rng.integers(8, 60)))
        ]
        habits = [" and ".join(self.some(self.symptoms, 2)) for _ in causes]
        return {
            "make": make,
            "name": f"{make[:2].upper()}-{chr(65 + number % 26)}{number % 10}",
            "device": DEVICES[number % len(DEVICES)],
            "causes": list(zip(causes, habits, self.some(self.boards, len(causes)), strict=True)),
        }

    def one(self, values: list[str]) -> str:
        """Draw one value."""
        return values[int(self.rng.integers(len(values)))]

    def some(self, values: list[str], count: int) -> list[str]:
        """Draw values, the same one perhaps twice."""
        return [values[place] for place in self.rng.integers(0, len(values), count)]

    def prose(self, count: int) -> str:
        """Draw words by their shares."""
        return " ".join(self.words[i] for i in np.searchsorted(self.shares, self.rng.random(count)))

    def note(self, number: int) -> tuple[str, str]:
        """Return the path and the text of a note, about 95 words."""
        day = FIRST_DAY + timedelta(days=number // 12)
        tail = "".join(CROCKFORD[number // 32**place % 32] for place in (3, 2, 1, 0))
        case = f"{day:%Y%m%d}-{tail}"
        family = self.families[int(self.rng.zipf(1.5)) % len(self.families)]
        causes = family["causes"]
        assert isinstance(causes, list)
        cause, symptom, board = causes[int(self.rng.zipf(1.3)) % len(causes)]
        lines = {
            "case": case,
            "date": day.isoformat(),
            "device": family["device"],
            "make": family["make"],
            "model": f"{family['name']}-{int(self.rng.integers(20, 60))}",
            "chassis_family": family["name"],
            "complaint": f'"{symptom}, {self.prose(8)}"'.replace("\n", " "),
            "symptom": f'["{symptom}"]',
            "blinks": self.one(list(BLINKS)),
            "root_cause": f'"{cause}"',
            "board": f'"{board}"',
            "check": f'"{self.prose(5)}"',
            "check_time": f"{int(self.rng.integers(2, 20))} min",
            "fix": f'"{self.prose(10)}"',
            "fix_time": f"{int(self.rng.integers(15, 150))} min",
            "proof": f'"{self.prose(5)}"',
            "outcome": self.one(list(OUTCOMES)),
            "tech": "RK",
        }
        head = "".join(f"{name}: {value}\n" for name, value in lines.items() if value)
        body = f"{self.prose(25)}.\n{self.prose(20)}.\n"
        return f"cases/{day:%Y}/{case}.md", f"---\n{head}---\n{body}"

    def complaint(self) -> str:
        """Return what an owner might say, 4 to 10 words."""
        return f"{self.one(self.symptoms)} {self.prose(int(self.rng.integers(3, 8)))}"


def generate_notes(count: int, *, seed: int = 1) -> Iterator[tuple[str, str]]:
    """Yield the path and the text of each note."""
    maker = Maker(seed)
    for number in range(count):
        yield maker.note(number)


def generate_complaints(count: int, *, seed: int = 2) -> list[str]:
    """Return complaints of 4 to 10 words."""
    maker = Maker(seed)
    return [maker.complaint() for _ in range(count)]


def make_notebook(root: Path, count: int, *, seed: int = 1) -> Notebook:
    """Write a notebook of that many notes into a folder, unless it is there already."""
    done = root / f"made-{count}-{seed}"
    if not done.exists():
        for path, text in generate_notes(count, seed=seed):
            target = root / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(text, encoding="utf-8")
        done.touch()
    return Notebook(root)


if __name__ == "__main__":
    started = time.perf_counter()
    folder, number_of_notes = Path(sys.argv[1]), int(sys.argv[2])
    make_notebook(folder, number_of_notes)
    print(f"{number_of_notes} notes in {folder} after {time.perf_counter() - started:.0f} s")
