"""Rounds of work at the bench: stop readings, and the warning before an overcut."""
