"""What the service sheet says the blinks mean, against the names of the causes."""

from operator import attrgetter

from search.causes.opinion import Opinion

OPINION = Opinion(name="sheet", log_scores=attrgetter("sheet_logs"), weight=1.0, least=0.5, most=1.5)
