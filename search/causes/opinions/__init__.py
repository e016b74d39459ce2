"""The opinions that are joined into the odds of the causes; one line each, and no other place names them."""

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
