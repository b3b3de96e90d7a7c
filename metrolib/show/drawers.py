"""Which function draws each kind of result, by name, so that a picture loads only its own file."""

from importlib import import_module

from metrolib import checks

#: For the class of a result: the file of this folder and the function that draws it, and how high
#: the picture should be at some 8 to 9 wide: a number, or the function that tells it [inch].
DRAWERS = {
    "Heights": ("profiles.draw_heights", 3.4),
    "Checks": ("maps.draw_checks", 3.4),
    "SurveyPlan": ("expected.draw_survey_plan", 3.4),
    "Straightness": ("profiles.draw_straightness", 3.4),
    "Flatness": ("maps.draw_flatness", 4.6),
    "Coplanarity": ("maps.draw_coplanarity", 3.4),
    "Parallelism": ("profiles.draw_parallelism", 3.4),
    "Twist": ("profiles.draw_twist", 3.4),
    "Unworn": ("profiles.draw_unworn", 3.4),
    "HiddenBow": ("supports.draw_hidden_bow", 3.4),
    "PrintUnder": ("supports.draw_print_under", 3.4),
    "FirstEnd": ("supports.draw_first_end", 3.4),
    "DressByPrint": ("supports.draw_dressing", 3.4),
    "SagOnSupports": ("supports.draw_sag", 3.4),
    "BestSupports": ("supports.draw_best_supports", 3.4),
    "ThermalBow": ("supports.draw_thermal_bow", 3.4),
    "AdjustFeet": ("feet.draw_feet", 3.4),
    "FootLoads": ("feet.draw_foot_loads", 3.4),
    "FootResponse": ("feet.draw_foot_response", 3.4),
    "ElasticTwist": ("feet.draw_elastic_twist", 3.4),
    "Vee": ("vees.draw_vee", 3.4),
    "VeeOverPins": ("vees.draw_vee_over_pins", 3.4),
    "Dovetail": ("vees.draw_dovetail", 3.4),
    "Squareness": ("squares.draw_squareness", 3.4),
    "RemovalPlan": ("plan_view.draw_plan_view", "plan_view.room_needed"),
    "Stages": ("stages.draw_stages", 3.4),
    "PassNumbers": ("stages.draw_pass_numbers", "stages.room_for_zones"),
    "SpacerCut": ("spacer.draw_spacer_cut", 3.4),
    "FaceOrders": ("spacer.draw_face_orders", 3.4),
    "Ways": ("ways.draw_ways", "ways.room_needed"),
    "Progress": ("progress.draw_progress", 4.6),
    "Bearing": ("bearing.draw_bearing", "bearing.room_needed"),
    "PrintLog": ("prints.draw_print_log", "prints.room_needed"),
    "Lowering": ("consequences.draw_lowering", 4.6),
    "DriveOffsets": ("consequences.draw_drive_offsets", 3.4),
    "TurnedDiameter": ("consequences.draw_turned_diameter", 3.4),
    "Acceptance": ("acceptance.draw_acceptance", "acceptance.room_needed"),
}

#: What draws one face of a result that has several: a function of (result, ax, face, unit).
OF_ONE_FACE = {
    "RemovalPlan": "profiles.draw_face_removal",
    "Stages": "stages.draw_face_stages",
    "Progress": "progress.draw_face_progress",
}


def kind_of(result):
    """Return the name under which a kind of result is entered here.

    Raises
    ------
    InputError
        If there is no picture of it.
    """
    kind = type(result)
    if kind.__module__.startswith("metrolib.") and kind.__name__ in DRAWERS:
        return kind.__name__
    raise checks.wrong(
        "result",
        "there is no picture of this kind",
        kind.__name__,
        f"give one of {', '.join(DRAWERS)}",
    )


def function_of(name):
    """Return a function of a file of this folder, e.g. ``"profiles.draw_heights"``."""
    file, function = name.split(".")
    return getattr(import_module(f"metrolib.show.{file}"), function)
