"""From a complaint to an answer: reading, index, ranking, causes, checks, figures."""
