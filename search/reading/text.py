"""Cut text into words, in one way for notes, complaints and the index.

Whatever is searched goes through `tokenise`, so that notes and complaints have the same stems: "blinking" and
"blinks", "3.3 V" and "3.3V", "T-con" and "tcon", "HV-43L2" and "hv43l2".
"""

import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from functools import cache, lru_cache, partial
from typing import NamedTuple

from whoosh.lang.snowball.english import EnglishStemmer

from search.reading.word_lists import word_lists


class Token(NamedTuple):
    """Hold one word of a text and where it stands.

    text: in lower case, with straight apostrophes. start, end: offsets in the original text, end exclusive.
    stem: what is compared. after_break: a full stop, bracket or line end stands before the word. parted: one
    of these, or a comma or dash.
    """

    text: str
    start: int
    end: int
    stem: str
    after_break: bool = False
    parted: bool = False


# A number and its unit are one word, whatever stands between them.
_UNITS = {said: unit for unit, spellings in word_lists()["units"].items() for said in spellings.split()}
_UNIT_SPELLINGS = "|".join(sorted((*_UNITS, "µf", "μf", "µa", "μa"), key=len, reverse=True))

_LETTER = r"[^\W\d_]"
_WORD = r"(?:[^\W_][\u0300-\u036f]*)"
_HYPHEN = "[-\u2010\u2011]"
_APOSTROPHE = "['\u2019\u02bc]"
_TOKEN = re.compile(
    rf"""
  (?!\x20)  # most places where no word begins, quickly
  (?:
    (?-i: (?P<plain> [a-zA-Z]++ ) (?! [\w\u0300-\u036f] | {_HYPHEN} | {_APOSTROPHE} ) )  # most words, quickly
  | (?P<measure> (?: \d{{1,3}} (?:,\d{{3}})+ | \d+ (?:[.,]\d+)? )
                 (?: [ \t\u00a0\u2009\u202f]* | {_HYPHEN} ) (?:{_UNIT_SPELLINGS}) (?!{_WORD}) )
  | (?P<thousands> \d{{1,3}} (?:,\d{{3}})+ (?![\d.,]*\d) )
  | (?P<decimal> \d+ \.\d+ {_WORD}* )
  | (?P<joined> {_LETTER}{{1,2}} {_HYPHEN} {_WORD}* \d {_WORD}* (?: {_HYPHEN} {_WORD}* \d {_WORD}* )*
              | {_LETTER}{{3,4}} {_HYPHEN} (?=\d*{_LETTER}) {_WORD}* \d {_WORD}*
              | {_LETTER} {_HYPHEN} {_LETTER}+ )
  | (?P<word> {_WORD}+ (?: {_APOSTROPHE} {_WORD}+ )* )
  | (?P<break> [.;:!?()\[\]\n\r|] | /\s )
  | (?P<comma> , | [\u2013\u2014] | -\s )
  )
    """,
    re.IGNORECASE | re.VERBOSE,
)
_CODE = re.compile(word_lists()["codes"]["pattern"], re.VERBOSE | re.IGNORECASE)
_CURLY = str.maketrans({"\u2019": "'", "\u02bc": "'", "\u2010": "-", "\u2011": "-"})
_JOINED_MARKS = str.maketrans("", "", "-'")
_MEASURE_PARTS = re.compile(r"(\d+(?:\.\d+)?)[^\w.]*(\w+)")
_THOUSANDS = re.compile(r",(?=\d{3}(?!\d))")
_LONGEST_STEM = 64  # chosen by us: longer runs are pasted rubbish, and index terms must stay small
_MOST_CHUNKS = 50_000  # pieces of text kept in memory, about 10 MB; chosen by us

_english = EnglishStemmer()
# Words that the stemmer confuses, or fails to join.
_STEM_EXCEPTIONS = {word: form for form, words in word_lists()["stems"].items() for word in words.split()}

Span = tuple[int, int]  # start and end in a text, in characters, end exclusive

STOP_WORDS = frozenset(word_lists()["small"]["story"].split())
STOP_SPELLINGS = STOP_WORDS | frozenset(word.replace("'", "") for word in STOP_WORDS)


@lru_cache(maxsize=200_000)
def stem(word: str) -> str:
    """Return the form of a word that is compared, at most 64 characters.

    Accents, hyphens, apostrophes and a possessive "'s" are dropped, and the Porter2 stemmer cuts English
    endings. Anything with a digit stays whole, as it is a part, a model or a value.
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
    """Return a word without accents, and with the signs for micro and ohm as letters."""
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


_FORMS: Mapping[str | None, Callable[[str], str]] = {
    "measure": _measure_stem,
    "thousands": lambda said: said.replace(",", ""),
}
_token = partial(tuple.__new__, Token)  # twice as fast as Token(): 100,000 notes have ten million


def tokenise(text: str) -> list[Token]:
    """Return the words of a text in order, with their offsets in it.

    Values with units ("3.3 V", "470µF"), part numbers, model names with a hyphen ("HV-43L2"), one-letter
    compounds ("T-con") and "won't" stay whole. Other compounds are split ("ferry-dropped", "4-5").
    """
    return _cut(text)[0]


def _cut(text: str) -> tuple[list[Token], str]:
    """Return the words of a text, and what follows the last: "", "," or a line end."""
    tokens: list[Token] = []
    after_break = parted = False
    for match in _TOKEN.finditer(text):
        kind, said = match.lastgroup, match[0].lower()
        if kind == "plain":
            form = stem(said)
        elif kind in ("break", "comma"):
            after_break, parted = after_break or kind == "break", True
            continue
        else:
            said = said if said.isascii() else said.translate(_CURLY)
            form = _FORMS.get(kind, stem)(said)
        if form:
            tokens.append(_token((said, *match.span(), form, after_break, parted)))
            after_break = parted = False
    return tokens, "\n" if after_break else "," if parted else ""


# A word between spaces that reads the same anywhere: numbers, dashes and slashes may belong to what follows.
_CLOSED = re.compile(rf"(?s)(?=.*{_LETTER})(?:\D*[^\d/-]|[,\n]?[a-zA-Z][a-zA-Z0-9]*[.,;:!?)]*)")


@cache
def _cut_closed(chunk: str) -> tuple[list[Token], str] | None:
    return _cut(chunk) if len(chunk) <= _LONGEST_STEM and _CLOSED.fullmatch(chunk) else None


@lru_cache(maxsize=20_000)
def _cut_line(line: str) -> list[Token]:
    return _cut(line)[0]


def tokenise_quickly(text: str) -> list[Token]:
    """Return the same words without offsets, quickly: most words of notes were cut before."""
    if "-\n" in text:
        return tokenise(text)  # there a dash counts, and the end of the line does not
    if _cut_closed.cache_info().currsize > _MOST_CHUNKS:  # simpler than dropping the oldest
        _cut_closed.cache_clear()
    tokens: list[Token] = []
    mark = ""
    for line in text.split("\n"):
        if len(line) <= _LONGEST_STEM:  # usually a name that many notes share
            tokens += _cut_line(mark + line)
            mark = "\n"
            continue
        held: list[str] = []
        for chunk in line.split(" "):
            cut = _cut_closed(mark + chunk)
            if held or cut is None:
                held.append(chunk if held else mark + chunk)
                if cut is None:
                    continue
                cut = _cut(" ".join(held))
                held = []
            tokens += cut[0]
            mark = cut[1]
        tokens += _cut(" ".join(held))[0] if held else ()
        mark = "\n"
    return tokens


def codes_told(text: str) -> list[Token]:
    """Return the fault codes of a text, each as a word: "e18" for "E18", "E-18" and "Error: 18"."""
    return [
        Token(code := re.sub(r"rror|\W", "", match["code"].lower()), *match.span("code"), code)
        for match in _CODE.finditer(text)
    ]


def inside(token: Token, spans: Iterable[Span]) -> bool:
    """Tell whether a word lies in one of some spans, at least in part."""
    return any(token.start < end and token.end > start for start, end in spans)


@lru_cache(maxsize=50_000)
def is_stop_word(word: str) -> bool:
    """Tell whether a word, with or without its apostrophe, says nothing of a fault by itself."""
    return word.lower().translate(_CURLY) in STOP_SPELLINGS


def words_of(tokens: Iterable[Token]) -> set[str]:
    """Return the words of a text as written, lower case: what may be offered for a misspelt word.

    They have two or more letters and nothing else. Stop words are among them, so that "form" is not corrected
    to something rarer.
    """
    return {text for text in {token.text for token in tokens} if len(text) > 1 and text.isalpha()}


def once(words: Iterable[str]) -> tuple[str, ...]:
    """Return words in their order, each once."""
    return tuple(dict.fromkeys(words))
