"""The command line: a survey folder in, the decision in words and a table and a report out."""

import argparse
import codecs
import os
import sys
import warnings
from dataclasses import replace
from pathlib import Path

SAMPLES = Path(__file__).resolve().parents[1] / "sample_surveys"
#: How the names of those begin that are there to be copied.
TEMPLATE = "template_"

ABOUT = """\
metrolib goes from the raw readings of a worn machine tool's ways to a removal decision:
what to take off each face at each place, how sure that is, and what governs it."""


#: What stands in for a character that a terminal cannot show.
_PLAINER = {"µ": "u", "±": "+-", "³": "3", "²": "2", "°": "deg", "–": "-", "’": "'"}


def main(arguments=None):
    """Work one survey folder; return the exit code: 0 done, 1 no plan or cut off, 2 bad input."""
    _never_fail_on_a_character()
    parser = _parser()
    chosen = parser.parse_args(arguments)
    if chosen.folder is None:
        print(ABOUT, _samples(), "python -m metrolib --help explains the options.", sep="\n\n")
        return 0
    from metrolib.errors import MetrolibError

    try:
        code = _work(chosen)
        sys.stdout.flush()
        return code
    except MetrolibError as error:
        print(f"metrolib: {error}", file=sys.stderr)
        return 2
    except BrokenPipeError:  # what reads the output, such as head, has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1


def _never_fail_on_a_character():
    """Let output go on in plainer characters where the terminal's encoding has no others."""
    codecs.register_error("metrolib.plainer", _plainer)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="metrolib.plainer")


def _plainer(error):
    """Return plainer characters for those that cannot be encoded, and where to go on."""
    lost = error.object[error.start : error.end]
    return "".join(_PLAINER.get(letter, "?") for letter in lost), error.end


def _parser():
    """Describe the options."""
    parser = argparse.ArgumentParser(prog="python -m metrolib", description=ABOUT)
    parser.add_argument(
        "folder", nargs="?", type=Path, help="survey folder with survey.toml and readings.csv"
    )
    parser.add_argument(
        "--report",
        type=Path,
        metavar="FILE",
        help="where to write the report, .html or .pdf (default: metrolib_report.html in the "
        "current folder)",
        default=Path("metrolib_report.html"),
    )
    parser.add_argument(
        "--job-sheet",
        type=Path,
        metavar="FILE",
        help="write a one-page job sheet for the wall as well",
    )
    parser.add_argument("--no-report", action="store_true", help="print only, write nothing")
    parser.add_argument(
        "--unit",
        choices=("um", "thou"),
        help="show micrometres or thou (default: the survey's own)",
    )
    parser.add_argument(
        "--state",
        action="append",
        metavar="STATE",
        help="use the traverses taken in this state of the machine (free, levelled, bolted); give "
        "it again to take two states for one shape",
    )
    parser.add_argument(
        "--rounds",
        action="store_true",
        help="tell as well how far the rounds of work in the folder's rounds/ have come",
    )
    return parser


def _work(chosen):
    """Run the main job and print what it found."""
    from metrolib.errors import DoubtfulReadingsWarning
    from metrolib.heights.adjust import adjust
    from metrolib.rebuild.removal.options import compare
    from metrolib.survey.folder import read_survey

    survey = read_survey(chosen.folder)
    if chosen.unit:
        survey = replace(survey, display=chosen.unit)
    with warnings.catch_warnings():
        # the verdict on the readings is printed in full below
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)
        heights = adjust(survey, states=chosen.state)
    comparison = compare(heights, {"as decided": survey.decision, **survey.options})
    plan = comparison["as decided"]
    _print(survey, heights, plan, comparison)
    now = _progress(chosen, plan, survey.display)
    if not chosen.no_report:
        from metrolib.show.report import report

        more = {"comparison": comparison, "progress": now}
        print(f"\nReport: {report(survey, heights, plan, chosen.report, **more)}")
    if isinstance(plan, Exception):
        return 1
    if chosen.job_sheet:
        from metrolib.show.jobsheet import job_sheet

        print(f"\nJob sheet: {job_sheet(survey, heights, plan, chosen.job_sheet)}")
    return 0


def _progress(chosen, plan, unit):
    """Print how far the rounds of work have come, and return it; None without rounds or a plan."""
    if not chosen.rounds or isinstance(plan, Exception):
        return None
    from metrolib.errors import DoubtfulReadingsWarning
    from metrolib.heights.rounds import adjust_rounds
    from metrolib.rebuild.rounds.progress import progress
    from metrolib.survey.rounds import read_rounds

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)
        rounds = adjust_rounds(read_rounds(chosen.folder), states=chosen.state)
    now = progress(rounds, plan)
    print("\nRounds of work", rounds.checks.verdict, now.in_words(unit), sep="\n")
    return now


def _print(survey, heights, plan, comparison):
    """Print the decision in words, then the tables, then what is doubtful."""
    unit = survey.display
    print(survey.machine.name, heights.checks.verdict, sep="\n\n")
    for item in heights.not_determined:
        print(f"- {item}")
    if isinstance(plan, Exception):
        print(f"\nNo removal was planned: {plan}")
    else:
        print("", plan.in_words(unit), "", plan.to_text(unit), sep="\n")
    print("", "Options side by side", comparison.to_text(unit), sep="\n")


def _samples():
    """List the sample surveys, each with the title of its story, then the templates."""
    found = sorted(path.parent for path in SAMPLES.glob("*/survey.toml"))
    if not found:
        return "Give it a survey folder: python -m metrolib FOLDER"
    templates = [folder for folder in found if folder.name.startswith(TEMPLATE)]
    return "\n".join(
        [
            "Sample surveys to try: python -m metrolib FOLDER, with FOLDER one of",
            *(_listed(folder) for folder in found if folder not in templates),
            "",
            "Templates to begin your own with, nothing is read yet: copy one and fill it in",
            *map(_listed, templates),
        ]
    )


def _listed(folder):
    """Return a folder as it is listed: how to spell it, and its title."""
    return f"  {_spelled(folder)}\n      {_title(folder).removeprefix('Template: ')}"


def _spelled(folder):
    """Spell a folder as the user would type it from here."""
    here = Path.cwd()
    return folder.relative_to(here) if folder.is_relative_to(here) else folder


def _title(folder):
    """Return the first heading of a sample's README."""
    readme = folder / "README.md"
    lines = readme.read_text(encoding="utf-8").splitlines() if readme.exists() else []
    return next((line.removeprefix("# ") for line in lines if line.startswith("# ")), folder.name)


if __name__ == "__main__":
    sys.exit(main())
