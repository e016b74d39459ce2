"""The opinions that are joined into the odds of the causes; one line each, and no other place names them."""

from search.causes.opinions import blinks, denied, logistic, means, shares, sheet, signs, votes, words

OPINIONS = (
    logistic.OPINION,
    means.OPINION,
    words.OPINION,
    votes.OPINION,
    shares.DEVICE,
    shares.FAMILY,
    blinks.OPINION,
    sheet.OPINION,
    signs.OPINION,
    denied.OPINION,
)
