"""A real Chromium for the browser tests; without one they are skipped, but never in CI."""

import os
import shutil
from pathlib import Path

import pytest

ARTEFACTS = Path(__file__).resolve().parents[2] / "artefacts"


def _chromium():
    names = [os.environ.get("CHROMIUM"), "/usr/bin/chromium", "chromium", "chromium-browser"]
    names += ["google-chrome", "chrome"]
    return next((found for name in names if name and (found := shutil.which(name))), None)


@pytest.fixture(scope="module")
def browser():
    """Return a headless Chromium.

    Playwright keeps an event loop running while it is open, so it is closed after each file:
    other tests, which run kernels, want loops of their own.
    """
    found = _chromium()
    if found is None:
        missing = "no Chromium is found: install one, or name it in the variable CHROMIUM"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=20_000)  # a machine that does much else at once is slow
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def shoot():
    """Return a function that keeps a screenshot of a page among the artefacts."""
    ARTEFACTS.mkdir(exist_ok=True)

    def keep(page, name):
        page.screenshot(path=ARTEFACTS / f"{name}.png")

    return keep
