"""Cut text into words: the one reading of words that notes, complaints and the index share.

Everything that is searched goes through `tokenise`, so that a note and a complaint meet on the same stems:
"blinking" and "blinks", "3.3 V" and "3.3V", "T-con" and "tcon", "HV-43L2" and "hv43l2".
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import NamedTuple

from whoosh.lang.snowball.english import EnglishStemmer


class Token(NamedTuple):
    """Hold one word of a text and where it stands.

    text: lower case, apostrophes straight. start, end: offsets in the original text (end exclusive).
    stem: what is compared. after_break: a full stop, bracket or line end stands before this word (no comma).
    A named tuple and not a frozen dataclass: 100,000 notes are ten million of these.
    """

    text: str
    start: int
    end: int
    stem: str
    after_break: bool = False


# A number and its unit are one word however they are spaced. Amperes and watts are left out: "6 a day".
_UNITS = {
    "v": "v", "volt": "v", "volts": "v", "mv": "mv", "kv": "kv", "vdc": "vdc", "vac": "vac",
    "ohm": "ohm", "ohms": "ohm", "ω": "ohm", "kω": "kohm", "kohm": "kohm", "kohms": "kohm", "mω": "mohm",
    "uf": "uf", "nf": "nf", "pf": "pf", "hz": "hz", "khz": "khz", "mhz": "mhz", "ma": "ma", "ua": "ua",
}  # fmt: skip
_UNIT_SPELLINGS = "|".join(sorted((*_UNITS, "µf", "μf", "µa", "μa"), key=len, reverse=True))

_LETTER = r"[^\W\d_]"
_WORD = r"(?:[^\W_][\u0300-\u036f]*)"
_HYPHEN = "[-\u2010\u2011]"
_APOSTROPHE = "['\u2019\u02bc]"
_TOKEN = re.compile(
    rf"""
    (?P<measure> (?: \d{{1,3}} (?:,\d{{3}})+ | \d+ (?:[.,]\d+)? )
                 (?: [ \t\u00a0\u2009\u202f]* | {_HYPHEN} ) (?:{_UNIT_SPELLINGS}) (?!{_WORD}) )
  | (?P<thousands> \d{{1,3}} (?:,\d{{3}})+ (?![\d.,]*\d) )
  | (?P<decimal> \d+ \.\d+ {_WORD}* )
  | (?P<joined> {_LETTER}{{1,2}} {_HYPHEN} {_WORD}* \d {_WORD}* (?: {_HYPHEN} {_WORD}* \d {_WORD}* )*
              | {_LETTER}{{3,4}} {_HYPHEN} (?=\d*{_LETTER}) {_WORD}* \d {_WORD}*
              | {_LETTER} {_HYPHEN} {_LETTER}+ )
  | (?P<word> {_WORD}+ (?: {_APOSTROPHE} {_WORD}+ )* )
  | (?P<break> [.;:!?()\[\]\n\r|] )
    """,
    re.IGNORECASE | re.VERBOSE,
)
_CURLY = str.maketrans({"\u2019": "'", "\u02bc": "'", "\u2010": "-", "\u2011": "-"})
_JOINED_MARKS = str.maketrans("", "", "-'")
_MEASURE_PARTS = re.compile(r"(\d+(?:\.\d+)?)[^\w.]*(\w+)")
_THOUSANDS = re.compile(r",(?=\d{3}(?!\d))")
_LONGEST_STEM = 64  # chosen by us: longer runs are pasted rubbish, and terms must stay small in the index

_english = EnglishStemmer()
# Where the stemmer joins what the bench keeps apart ("main" and "mains"), or parts one word ("colour").
_WORDS_OF_STEM = {
    "mains": "mains", "electrolyte": "electrolyte", "condenser": "condenser condensers", "carbons": "carbons",
    "receiver": "receiver receivers", "several": "several", "singe": "singe singed", "leaky": "leaky",
    "shorted": "shorted shorts shorting", "crackl": "crackly", "nois": "noisy", "telly": "telly tellies",
    "overheat": "overheats overheating", "color": "colour colours coloured", "gray": "grey",
    "program": "programme programmes", "center": "centre", "discolor": "discoloured discolouration",
    "burn": "burnt", "spill": "spilt", "freez": "froze frozen", "shake": "shaken", "blown": "blown blew",
    "smell": "smelt", "stick": "stuck", "break": "broke broken", "wear": "worn", "lose": "lost",
    "fall": "fell fallen",
}  # fmt: skip
_STEM_EXCEPTIONS = {word: form for form, words in _WORDS_OF_STEM.items() for word in words.split()}

# Words of people telling a story. None names a fault; "no", "not", "on" and "off" mean something only inside
# the phrases of kb/terms.toml, which see every word.
_STORY = """
    a about after again all almost also am an and another any anyway are around as at away back be
    because been before being bit both but by came can can't cannot come comes could couldn't did didn't
    do does doesn't doing don't done down each even ever every for from gave get gets getting give gives
    go goes going gone got had has hasn't have haven't having he hello help her hers hi him his how
    however i i'd i'll i'm i've if in into is isn't it it'd it'll it's its itself just keep keeps kept
    know last let like likely little lot made make makes many may maybe me mean might more most much my
    myself no nor not now of off often oh ok okay old on once one only onto or other our out over own
    perhaps please possibly probably quite rather really right said same say says see seem seemed seems
    she should shouldn't since so some somehow someone something sometimes sort still stuff such sure
    tell than thank thanks that that's the their them then there there's these they they're thing things
    think this those though thought through till time times to today together told too tried try trying
    under until up upon us use used using usual usually very want wanted was wasn't we we've well went
    were weren't what whatever when whenever where which while who why will with without won't would
    wouldn't yes yesterday yet you your fine night tonight turn turned turning turns
"""
STOP_WORDS = frozenset(_STORY.split())
_STOP_SPELLINGS = STOP_WORDS | frozenset(word.replace("'", "") for word in STOP_WORDS)


@lru_cache(maxsize=200_000)
def stem(word: str) -> str:
    """Return the form of a word that is compared, at most 64 characters.

    Accents, hyphens, apostrophes and a possessive "'s" fall away; English endings are cut by the Porter2
    stemmer; anything with a digit is left whole, for it is a part, a model or a value.
    """
    plain = word.lower().translate(_CURLY)
    if not plain.isascii():
        plain = _without_accents(plain)
    if plain.endswith("'s"):
        plain = plain[:-2]
    plain = plain.translate(_JOINED_MARKS)[:_LONGEST_STEM]
    if plain in _STEM_EXCEPTIONS:
        return _STEM_EXCEPTIONS[plain]
    if plain.isalpha() and plain.isascii():
        return str(_english.stem(plain))
    return plain


def _without_accents(word: str) -> str:
    """Return a word with accents dropped and the signs for micro and ohm spelled in plain letters."""
    spread = unicodedata.normalize("NFKD", word)
    bare = "".join(char for char in spread if char.isalnum() or char in "-'.").lower()
    return bare.replace("\u03bc", "u").replace("\u03c9", "ohm")


@lru_cache(maxsize=20_000)
def _measure_stem(said: str) -> str:
    """Return "470uf" for "470 µF": the number, then the unit in one spelling."""
    parts = _MEASURE_PARTS.fullmatch(_THOUSANDS.sub("", said).replace(",", "."))
    if parts is None:
        return stem(said)
    number, unit = parts.groups()
    unit = unit.lower().replace("\u00b5", "u").replace("\u03bc", "u")
    return number + _UNITS.get(unit, _without_accents(unit))


def tokenise(text: str) -> list[Token]:
    """Return the words of a text in order, with their offsets in it.

    Kept whole: values with units ("3.3 V", "470µF"), part numbers, model names with a hyphen ("HV-43L2"),
    one-letter compounds ("T-con"), "won't". Other compounds fall apart ("ferry-dropped", "4-5").
    """
    tokens: list[Token] = []
    after_break = False
    for match in _TOKEN.finditer(text):
        kind = match.lastgroup
        if kind == "break":
            after_break = True
            continue
        start, end = match.span()
        said = match.group().lower()
        if not said.isascii():
            said = said.translate(_CURLY)
        if kind == "measure":
            form = _measure_stem(said)
        elif kind == "thousands":
            form = said.replace(",", "")
        else:
            form = stem(said)
        if form:
            tokens.append(Token(said, start, end, form, after_break))
            after_break = False
    return tokens


def is_stop_word(word: str) -> bool:
    """Return whether a word, with or without its apostrophe, says nothing about a fault by itself."""
    return word.lower().translate(_CURLY) in _STOP_SPELLINGS


def surface_words(text: str) -> Iterator[str]:
    """Return the plain words of a text as they were written, lower case, once for each time they stand there.

    Only words of letters alone, two or more: what the lexicon may offer for a misspelt word. Stop words are
    among them, so that "trun on" finds "turn", and "form" is not bent into something rarer.
    """
    return words_of(tokenise(text))


def words_of(tokens: Iterable[Token]) -> Iterator[str]:
    """Return the plain words of a text that is cut into words already (see surface_words)."""
    return (token.text for token in tokens if len(token.text) > 1 and token.text.isalpha())
