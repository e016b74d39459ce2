"""How likely each cause shows the blinks that were said, and what the service sheet says they mean."""

from operator import attrgetter

from search.causes.opinion import Opinion

# A blink count does not depend on the words beside it, so it counts in full, as Bayes' rule has it, or more.
BLINKS = Opinion(name="blinks", log_scores=attrgetter("blink_logs"), weight=1.0, least=1.0, most=1.5)
# The sheet's meaning of the blinks against the names of the causes.
SHEET = Opinion(name="sheet", log_scores=attrgetter("sheet_logs"), weight=1.0, least=0.5, most=1.5)
