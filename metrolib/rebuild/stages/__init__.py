"""Stages: from the plan to the bench, with stop readings, passes, hours and spacers."""
