"""The opinions that are joined into the odds of the causes; one line each, and no other place names them."""

from search.causes.opinions import blinks, learned, shares, signs, votes, words

OPINIONS = (
    learned.LOGISTIC,
    learned.MEANS,
    words.WORDS,
    votes.OPINION,
    shares.DEVICE,
    shares.FAMILY,
    blinks.BLINKS,
    blinks.SHEET,
    signs.OPINION,
    words.DENIED,
)
