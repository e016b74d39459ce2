"""The opinions that are joined into the odds of the causes; one line each, and no other place names them."""

from search.causes.opinions import blinks, denied, device, family, logistic, means, sheet, signs, votes, words

OPINIONS = (
    logistic.OPINION,
    means.OPINION,
    words.OPINION,
    votes.OPINION,
    device.OPINION,
    family.OPINION,
    blinks.OPINION,
    sheet.OPINION,
    signs.OPINION,
    denied.OPINION,
)
