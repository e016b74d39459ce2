"""A multinomial logistic model of the causes on the words and the meaning of past complaints.

Every past case adds to its own cause and takes from the others, the more the more it is like the complaint.
"""

from functools import partial

from search.causes.linear import fit_logistic
from search.causes.opinion import Opinion, learned_scores

NAME = "logistic"
_STRENGTH = 32.0  # how far the cases may pull it; chosen by us, half or twice as much loses next to nothing

OPINION = Opinion(
    name=NAME,
    log_scores=learned_scores(NAME),
    weight=0.5,
    most=1.6,
    from_words=True,
    fit=partial(fit_logistic, strength=_STRENGTH),
    stand_in="means",
)
