"""From raw readings on worn slideways to a removal decision, with its uncertainty.

The public names, in the order of the job. Each is loaded when it is first used, so that
``import metrolib`` is quick and a reader of heights never pays for the pictures.
"""

from importlib import import_module

__version__ = "0.1.0"

_HOMES = {
    # the survey
    "read_survey": "survey.folder",
    "blank_survey": "survey.blank",
    "Survey": "survey.folder",
    "Face": "survey.machine",
    "Decision": "survey.decision",
    "read_rounds": "survey.rounds",
    "Print": "survey.prints",
    "plan_survey": "heights.plan",
    # readings to heights
    "adjust": "heights.adjust",
    "adjust_rounds": "heights.rounds",
    "given_heights": "heights.result",
    "relative_to": "heights.frame",
    "At": "heights.rows",
    "Extra": "heights.rows",
    "Known": "heights.rows",
    # heights to form
    "straightness": "form.straightness",
    "flatness": "form.flatness",
    "coplanarity": "form.coplanarity",
    "parallelism": "form.parallelism",
    "twist": "form.twist",
    "vee": "form.vee",
    "vee_over_pins": "form.vee_pins",
    "dovetail": "form.dovetail",
    "over_pins": "form.over_pins",
    "squareness": "form.squareness",
    "reversal": "form.reversal",
    "unworn": "form.unworn",
    "worst_window": "form.windows",
    "rank_datums": "form.datums",
    "monte_carlo": "uncertain.montecarlo",
    "confidence_interval": "form.confidence",
    # support, heat, the short straightedge
    "BeamSection": "heights.beam_section",
    "material": "survey.materials",
    "sag_on_supports": "rebuild.support.support",
    "best_supports": "rebuild.support.best_supports",
    "thermal_bow": "rebuild.support.heat",
    "expansion_between": "rebuild.support.heat",
    "trust_limit": "rebuild.support.trust",
    "hidden_bow": "form.short_straightedge",
    "print_under": "form.print_under",
    "first_end": "form.first_end",
    "dress_by_print": "rebuild.support.dressing",
    # levelling
    "Foot": "rebuild.support.feet",
    "adjust_feet": "rebuild.support.levelling",
    "foot_loads": "rebuild.support.foot_loads",
    "foot_response": "rebuild.support.foot_turns",
    "elastic_twist": "rebuild.support.elastic",
    # form to work
    "findings": "rebuild.findings",
    "plan_removal": "rebuild.removal.removal",
    "vee_cut": "rebuild.removal.vee_cut",
    "compare": "rebuild.removal.options",
    "choose_way": "rebuild.ways.choosing",
    "SentOut": "rebuild.ways.ways",
    "study_plan": "rebuild.removal.study",
    "between_stations": "rebuild.removal.gaps",
    "savings": "rebuild.removal.savings",
    # from the decision to the bench
    "Method": "survey.methods",
    "removal_rate": "rebuild.stages.rates",
    "Gauge": "rebuild.stages.gauges",
    "gauges_of": "rebuild.stages.gauges",
    "stages": "rebuild.stages.stages",
    "pass_numbers": "rebuild.stages.passes",
    "Bridge": "rebuild.stages.section",
    "cross_section": "rebuild.stages.section",
    "spacer_cut": "rebuild.stages.spacer",
    "order_of_faces": "rebuild.stages.face_order",
    # what the lowering does
    "Carried": "survey.carried",
    "Drive": "survey.carried",
    "lowering": "rebuild.lowering.lowering",
    "drive_offsets": "rebuild.lowering.drive",
    "centre_offset": "rebuild.lowering.centres",
    "turned_diameter": "rebuild.lowering.turned",
    "restoring": "rebuild.lowering.restoring",
    # round by round, by blue and by heights
    "progress": "rebuild.rounds.progress",
    "after_overcut": "rebuild.rounds.overcut",
    "bearing_from_counts": "rebuild.bearing.bearing",
    "bearing_from_photo": "rebuild.bearing.bearing_photo",
    "print_log": "rebuild.bearing.print_log",
    # good enough?
    "Tolerance": "survey.tolerances",
    "tolerances": "rebuild.acceptance.tolerance_tables",
    "accept": "rebuild.acceptance.acceptance",
    # for eyes and hands
    "plot": "show.figures",
    "report": "show.report",
    "job_sheet": "show.jobsheet",
    "explore": "show.explore",
    "check_answer": "show.exercise",
    "worksheet": "show.worksheet.worksheet",
    "Worksheet": "show.worksheet.worksheet",
    "show_length": "units",
    # what can go wrong
    "MetrolibError": "errors",
    "SurveyError": "errors",
    "InputError": "errors",
    "NotDeterminedError": "errors",
    "ImpossiblePlanError": "errors",
}

__all__ = list(_HOMES)


def __getattr__(name):
    """Load a public name from its home (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"metrolib has no {name!r}; it has {', '.join(_HOMES)}")
    value = getattr(import_module(f"metrolib.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__():
    """List the public names, for completion."""
    return sorted([*__all__, "__version__"])
