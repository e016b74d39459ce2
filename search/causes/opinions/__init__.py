"""The opinions that are joined into the odds of the causes; one line each, and no other place names them."""

from search.causes.opinions import blinks, denied, learned, shares, signs, votes, words

OPINIONS = (
    learned.LOGISTIC,
    learned.MEANS,
    words.OPINION,
    votes.OPINION,
    shares.DEVICE,
    shares.FAMILY,
    blinks.BLINKS,
    blinks.SHEET,
    signs.OPINION,
    denied.OPINION,
)
