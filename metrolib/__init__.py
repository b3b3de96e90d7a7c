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
    "sag_on_supports": "rebuild.support",
    "best_supports": "rebuild.best_supports",
    "thermal_bow": "rebuild.heat",
    "expansion_between": "rebuild.heat",
    "trust_limit": "rebuild.trust",
    "hidden_bow": "form.short_straightedge",
    "print_under": "form.print_under",
    "first_end": "form.first_end",
    "dress_by_print": "rebuild.dressing",
    # levelling
    "Foot": "rebuild.feet",
    "adjust_feet": "rebuild.levelling",
    "foot_loads": "rebuild.foot_loads",
    "foot_response": "rebuild.foot_turns",
    "elastic_twist": "rebuild.elastic",
    # form to work
    "findings": "rebuild.findings",
    "plan_removal": "rebuild.removal",
    "vee_cut": "rebuild.vee_cut",
    "compare": "rebuild.options",
    "choose_way": "rebuild.choosing",
    "SentOut": "rebuild.ways",
    "study_plan": "rebuild.study",
    "between_stations": "rebuild.gaps",
    "savings": "rebuild.savings",
    # from the decision to the bench
    "Method": "survey.methods",
    "removal_rate": "rebuild.rates",
    "Gauge": "rebuild.gauges",
    "gauges_of": "rebuild.gauges",
    "stages": "rebuild.stages",
    "pass_numbers": "rebuild.passes",
    "Bridge": "rebuild.section",
    "cross_section": "rebuild.section",
    "spacer_cut": "rebuild.spacer",
    "order_of_faces": "rebuild.face_order",
    # what the lowering does
    "Carried": "survey.carried",
    "Drive": "survey.carried",
    "lowering": "rebuild.lowering",
    "drive_offsets": "rebuild.drive",
    "centre_offset": "rebuild.centres",
    "turned_diameter": "rebuild.turned",
    "restoring": "rebuild.restoring",
    "progress": "rebuild.progress",
    "after_overcut": "rebuild.overcut",
    "bearing_from_counts": "rebuild.bearing",
    "bearing_from_photo": "rebuild.bearing_photo",
    "print_log": "rebuild.print_log",
    "Tolerance": "survey.tolerances",
    "tolerances": "rebuild.tolerance_tables",
    "accept": "rebuild.acceptance",
    # for eyes and hands
    "plot": "show.figures",
    "report": "show.report",
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
