"""Bench minutes: the spellings technicians use, and the one this notebook writes."""

import re

LONGEST_MIN = 10_000  # chosen by us: 167 hours on one set, beyond it is a slip (test_durations)

_REMEDY = 'write bench minutes as "55 min" or "1 h 20 min"'
_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_HOUR_WORDS = r"(?:h|hr|hrs|hour|hours)\.?"
_MINUTE_WORDS = r"(?:m|mn|min|mins|minute|minutes|')\.?"
_WORDED = re.compile(
    rf"(?:(?P<h>{_NUMBER})\s*{_HOUR_WORDS})?\s*(?:and\s+|,\s*)?"
    rf"(?:(?P<m>{_NUMBER})\s*(?P<unit>{_MINUTE_WORDS})?)?"
)
_CLOCK = re.compile(r"(?P<h>[0-9]{1,3}):(?P<m>[0-9]{2})\s*(?:h|hr|hrs)?")
_ISO = re.compile(rf"pt(?:(?P<h>{_NUMBER})h)?(?:(?P<m>{_NUMBER})m)?(?:(?P<s>{_NUMBER})s)?")


_UNITS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_NUMBER_WORDS = {word: str(number) for number, word in enumerate(_UNITS, start=1)} | {
    "fifteen": "15", "twenty": "20", "thirty": "30", "forty": "40", "fifty": "50", "ninety": "90",
}  # fmt: skip
# Whole phrases first: what is left of "an hour and a half" would mean something else.
_PHRASES = (
    (re.compile(r"\b(?:a )?quarter (?:of )?an hour\b"), "15 min"),
    (re.compile(r"\bthree quarters of an hour\b"), "45 min"),
    (re.compile(r"\bhalf (?:of )?an hour\b|\bhalf hour\b"), "30 min"),
    (re.compile(r"\b(?:an|one) hour and a half\b|\b(?:one|an|1) and a half hours?\b"), "90 min"),
    (re.compile(r"\b(?:an|one) hour and a quarter\b"), "75 min"),
    (re.compile(r"\b(\d+|[a-z]+) and a half hours?\b"), r"\1.5 h"),
    (re.compile(r"\b(\d+|[a-z]+) hours and a half\b"), r"\1.5 h"),
    (re.compile(r"\ban? (hour|minute)\b"), r"1 \1"),
)
_TENS = re.compile(rf"\b(twenty|thirty|forty|fifty)[ -]({'|'.join(_UNITS[:9])})\b")
_ANYWHERE = re.compile(
    rf"(?<![\w.,:])(?:{_NUMBER}\s*{_HOUR_WORDS}(?:\s*(?:and\s+)?{_NUMBER}\s*{_MINUTE_WORDS})?"
    rf"|{_NUMBER}\s*{_MINUTE_WORDS})(?![\w])"
)


def in_figures(text: str) -> str:
    """Return a text in small letters with spoken durations in figures: "half an hour" is "30 min"."""
    said = text.lower()
    for phrase, figures in _PHRASES:
        said = phrase.sub(figures, said)
    said = _TENS.sub(lambda tens: str(int(_NUMBER_WORDS[tens[1]]) + int(_NUMBER_WORDS[tens[2]])), said)
    return re.sub(r"[a-z]+", lambda word: _NUMBER_WORDS.get(word[0], word[0]), said)


def find_durations(text: str) -> list[tuple[str, int]]:
    """Return the durations with a unit that stand in a text, in order.

    Returns:
        Pairs of the words before each (as in_figures() writes them) and its whole minutes.
    """
    said = in_figures(text)
    return [(said[: found.start()], parse_minutes(found[0])) for found in _ANYWHERE.finditer(said)]


def parse_minutes(text: str) -> int:
    """Read a duration and return whole bench minutes.

    Reads "55 min", "1 h 20 min", "1.5 h", "1:20" (hours and minutes), "PT1H20M" (ISO 8601-1), "55" and
    "an hour and a half". Halves round up.

    Returns:
        0 to 10,000 minutes.

    Raises: ValueError, whose message says what to write instead.
    """
    said = " ".join(text.lower().split())
    minutes = _minutes(said)
    if minutes is None:
        minutes = _minutes(in_figures(said))
    if minutes is None:
        raise ValueError(_REMEDY)
    if minutes > LONGEST_MIN:
        raise ValueError(f"{_REMEDY}, at most {LONGEST_MIN} minutes of hands-on time")
    return int(minutes + 0.5)


def format_minutes(minutes: int) -> str:
    """Return the written spelling: "55 min" below an hour, then "1 h 20 min" or "2 h".

    minutes: whole minutes, 0 or more.
    """
    hours, rest = divmod(minutes, 60)
    if hours and rest:
        return f"{hours} h {rest} min"
    return f"{hours} h" if hours else f"{rest} min"


def _minutes(said: str) -> float | None:
    if not said:
        return None
    if clock := _CLOCK.fullmatch(said):
        return _sum(clock["h"], clock["m"]) if int(clock["m"]) < 60 else None
    if iso := _ISO.fullmatch(said):
        seconds = _number(iso["s"])
        return None if said == "pt" else _sum(iso["h"], iso["m"]) + seconds / 60
    worded = _WORDED.fullmatch(said)
    if not worded:
        return None
    if worded["h"] and worded["m"] and not worded["unit"] and _number(worded["m"]) >= 60:
        return None
    return _sum(worded["h"], worded["m"])


def _sum(hours: str | None, minutes: str | None) -> float:
    return _number(hours) * 60 + _number(minutes)


def _number(digits: str | None) -> float:
    return float(digits.replace(",", ".")) if digits else 0.0
