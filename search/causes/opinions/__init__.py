"""The opinions that are joined into the odds. Only this list names them all."""

from search.causes.opinions import cases, learned, signs, words

OPINIONS = (
    learned.LOGISTIC,
    learned.MEANS,
    words.WORDS,
    cases.VOTES,
    cases.DEVICE,
    cases.FAMILY,
    cases.BLINKS,
    cases.SHEET,
    signs.OPINION,
    words.DENIED,
)
