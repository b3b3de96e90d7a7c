"""The pictures of README: drawn from the sample survey by the library itself.

Draw them anew from the project's folder: ``python -m tests.readme_picture``. The job sheet is a
page, so its picture takes a Chromium: the one of the browser tests.
"""

import re
import warnings
from functools import cache
from html import unescape
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace

from matplotlib.figure import Figure
from PIL import Image, ImageOps, PngImagePlugin

from metrolib import adjust, job_sheet, plan_removal, plot, read_survey
from metrolib.errors import DoubtfulReadingsWarning

SAMPLE = Path(__file__).resolve().parents[1] / "sample_surveys" / "toolroom_lathe"
PLAN = SAMPLE / "to_take_off.png"
PROFILE = SAMPLE / "front_flat.png"
JOB_SHEET = SAMPLE / "job_sheet.png"

#: A4 across, less its margins, at 96 pixels an inch.
_PAGE = {"width": 1047, "height": 717}


@cache
def worked():
    """Return the survey that the pictures show, its heights and its plan."""
    survey = read_survey(SAMPLE)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)  # the sample's planted blunder
        heights = adjust(survey)
        return SimpleNamespace(
            survey=survey, heights=heights, plan=plan_removal(heights, survey.decision)
        )


def descriptions():
    """Return what each picture shows today, in words, by its file."""
    plan = worked().plan
    on_front = plan.face == "front flat"
    depths = " ".join(f"{1000 * depth:.1f}" for depth in plan.depth[on_front])
    return {
        PLAN: plan.in_words(),
        PROFILE: f"To take off the front flat [µm]: {depths}",
        JOB_SHEET: words_of(sheet_page()),
    }


def sheet_page():
    """Return the job sheet as HTML."""
    with TemporaryDirectory() as place:
        page = job_sheet(worked().survey, worked().heights, worked().plan, f"{place}/sheet.html")
        return page.read_text(encoding="utf-8")


def words_of(page):
    """Return the words of a page."""
    body = re.sub(r"<style>.*?</style>", "", page, flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", body)).split())


def draw():
    """Draw all of them; the description of each says in words what it shows."""
    told = descriptions()
    for path, face in ((PLAN, None), (PROFILE, "front flat")):
        figure = Figure(figsize=(9.2, 3.3), layout="constrained")
        plot(worked().plan, figure.subplots(), face=face)
        figure.savefig(path, dpi=110, metadata={"Description": told[path], "Software": None})
    words = PngImagePlugin.PngInfo()
    words.add_itxt("Description", told[JOB_SHEET])
    with Image.open(BytesIO(photograph(sheet_page()))) as picture:
        # 16 greys are enough for print in black, and small
        framed = ImageOps.expand(picture.convert("L"), border=20, fill=255)
        framed.quantize(16).save(JOB_SHEET, pnginfo=words, optimize=True)


def photograph(page):
    """Return a page as it prints on A4 across (PNG)."""
    from playwright.sync_api import sync_playwright

    from tests.browser.conftest import chromium

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        shown = browser.new_page(viewport=_PAGE)
        shown.set_content(page)
        shown.emulate_media(media="print")
        taken = shown.screenshot()
        browser.close()
    return taken


if __name__ == "__main__":
    draw()
