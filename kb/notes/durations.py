"""Bench minutes: the spellings technicians use, and the one this notebook writes."""

import re

from kb.notes.blinks import NUMBER_WORDS

LONGEST_MIN = 10_000  # chosen by us: more than 167 hours on one set is a slip (test_durations)

REMEDY = 'write bench minutes as "55 min" or "1 h 20 min"'
_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_HOUR_WORDS = r"(?:h|hr|hrs|hour|hours)\.?"
_MINUTE_WORDS = r"(?:m|mn|min|mins|minute|minutes|')\.?"
_WORDED = re.compile(
    rf"(?=.)(?:(?P<h>{_NUMBER})\s*{_HOUR_WORDS})?\s*(?:and\s+|,\s*)?"
    rf"(?:(?P<m>{_NUMBER})\s*(?P<unit>{_MINUTE_WORDS})?)?"
)
_CLOCK = re.compile(r"(?P<h>[0-9]{1,3}):(?P<m>[0-5][0-9])\s*(?:h|hr|hrs)?")
_ISO = re.compile(rf"pt(?=.)(?:(?P<h>{_NUMBER})h)?(?:(?P<m>{_NUMBER})m)?(?:(?P<s>{_NUMBER})s)?")

_TENS = {"twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "ninety": 90}
_FIGURES = NUMBER_WORDS | _TENS
_SPOKEN = re.compile(rf"\b(?:({'|'.join(_TENS)})[ -])?({'|'.join(_FIGURES)})\b")
# Applied in this order, after numbers are in figures: else "1 hour" would be read out of "1 hour and a half".
_PHRASES = (
    (r"\ban? (?=hour\b|minute\b)", "1 "),
    (r"(?<=\d)-(?=hour|min)", " "),
    (r"\b(?:a )?quarter (?:of )?1 hour\b", "15 min"),
    (r"\b3 quarters of 1 hour\b", "45 min"),
    (r"\bhalf (?:of )?(?:1 )?hour\b", "30 min"),
    (r"\b(\d+) (?:hours? and a half|and a half hours?)\b", r"\1.5 h"),
    (r"\b(\d+) hours? and a quarter\b", r"\1.25 h"),
)
_ANYWHERE = re.compile(
    rf"(?<![\w.,:])(?:{_NUMBER}\s*{_HOUR_WORDS}(?:[0-5][0-9]|\s[0-5][0-9](?=$|[,;.)](?!\d))"
    rf"|\s*(?:and\s+)?{_NUMBER}\s*{_MINUTE_WORDS})?"
    rf"|{_NUMBER}\s*{_MINUTE_WORDS})(?!\w|(?<=[\d ]m) of\b)"  # "3 m of lead" is a length
)


def _in_figures(text: str) -> str:
    """Return a text in small letters with spoken durations in figures: "half an hour" is "30 min"."""
    said = _SPOKEN.sub(lambda word: str(_TENS.get(word[1], 0) + _FIGURES[word[2]]), text.lower())
    for phrase, figures in _PHRASES:
        said = re.sub(phrase, figures, said)
    return said


def find_durations(text: str) -> list[tuple[str, int]]:
    """Return each duration in a text: the words before it, and its minutes. Too long ones are left out."""
    said = _in_figures(text)
    found = ((said[: each.start()], _minutes(each[0]) or 0.0) for each in _ANYWHERE.finditer(said))
    return [(before, int(minutes + 0.5)) for before, minutes in found if minutes <= LONGEST_MIN]


def parse_minutes(text: str) -> int:
    """Read a duration and return whole bench minutes, 0 to 10,000, halves rounded up.

    Reads "55 min", "1 h 20 min", "1.5 h", "1:20" (hours and minutes), "PT1H20M" (ISO 8601-1), "55" and
    "an hour and a half". Raises: ValueError, whose message says what to write instead.
    """
    said = " ".join(text.lower().split())
    if (minutes := _minutes(said)) is None and (minutes := _minutes(_in_figures(said))) is None:
        raise ValueError(REMEDY)
    if minutes > LONGEST_MIN:
        raise ValueError(f"{REMEDY}, at most {LONGEST_MIN} minutes of hands-on time")
    return int(minutes + 0.5)


def format_minutes(minutes: int) -> str:
    """Return the written spelling of 0 minutes or more: "55 min", "1 h 20 min", "2 h"."""
    hours, rest = divmod(minutes, 60)
    if hours and rest:
        return f"{hours} h {rest} min"
    return f"{hours} h" if hours else f"{rest} min"


def _minutes(said: str) -> float | None:
    for spelling in (_CLOCK, _ISO, _WORDED):
        if found := spelling.fullmatch(said):
            digits = {"h": "", "m": "", "s": "", **found.groupdict("")}
            hours, minutes, seconds = (float(digits[unit].replace(",", ".") or 0) for unit in "hms")
            odd = spelling is _WORDED and hours and minutes >= 60 and not digits["unit"]
            return None if odd else hours * 60 + minutes + seconds / 60
    return None
