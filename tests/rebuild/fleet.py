"""A survey worked from end to end, as a function that workers can be sent."""

from metrolib import adjust, plan_removal, read_survey


def metal(folder):
    """Return the metal that the decision of a survey takes off [mm³]."""
    survey = read_survey(folder)
    return plan_removal(adjust(survey), survey.decision).volume
