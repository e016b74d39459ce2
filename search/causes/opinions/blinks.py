"""How likely each cause shows the blinks that were said."""

from operator import attrgetter

from search.causes.opinion import Opinion

# A blink count does not depend on the words beside it, so it counts in full, as Bayes' rule has it, or more.
OPINION = Opinion(name="blinks", log_scores=attrgetter("blink_logs"), weight=1.0, least=1.0, most=1.5)
