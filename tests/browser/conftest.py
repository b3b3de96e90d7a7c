"""A real Chromium and real servers for the browser tests; skipped without one, never in CI."""

import os
import shutil
from pathlib import Path

import pytest

from tests.browser import hands, servers

ARTEFACTS = Path(__file__).resolve().parents[2] / "artefacts"
LAPTOP = {"width": 1024, "height": 640}  # a screen of 1280 x 800 at 125 % zoom
TABLET = {"width": 800, "height": 1280}
_PATIENCE = 120_000  # ms; a machine that does much else at once is slow


def chromium():
    """Return where Chromium is, or None."""
    names = [os.environ.get("CHROMIUM"), "/usr/bin/chromium", "chromium", "chromium-browser"]
    names += ["google-chrome", "chrome"]
    return next((found for name in names if name and (found := shutil.which(name))), None)


@pytest.fixture(scope="package")
def browser():
    """Return a headless Chromium.

    Playwright keeps an event loop running while it is open, so it is closed after these tests:
    others, which run kernels, want loops of their own.
    """
    found = chromium()
    if found is None:
        missing = "no Chromium is found: install one, or name it in the variable CHROMIUM"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=_PATIENCE)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture(scope="package")
def lab(browser, tmp_path_factory):
    """Return a JupyterLab that serves the folders of all these tests."""
    with servers.lab(tmp_path_factory.mktemp("lab"), tmp_path_factory.mktemp("in_lab")) as running:
        yield running


@pytest.fixture(scope="package")
def voila(browser, tmp_path_factory):
    """Return a Voila that serves the folders of all these tests."""
    place, root = tmp_path_factory.mktemp("voila"), tmp_path_factory.mktemp("in_voila")
    with servers.voila(place, root) as running:
        yield running


@pytest.fixture(scope="package")
def laptop(browser):
    """Return what pages on an enlarged laptop are opened in; JupyterLab is fetched once."""
    context = browser.new_context(viewport=LAPTOP, device_scale_factor=1.25)
    context.set_default_timeout(_PATIENCE)
    yield context
    context.close()


@pytest.fixture(scope="package")
def tablet(browser):
    """Return what pages on a tablet are opened in."""
    context = browser.new_context(viewport=TABLET, has_touch=True)
    context.set_default_timeout(_PATIENCE)
    yield context
    context.close()


@pytest.fixture(scope="module")
def open_lab(lab, laptop):
    """Return a function that opens the worksheet of a folder in JupyterLab on the laptop."""
    pages = []
    yield _opener(laptop, pages, lambda page, *given: hands.open_in_lab(page, lab, *given))
    for page in pages:
        hands.shut_down(page)
        page.close()


@pytest.fixture(scope="module")
def open_voila(voila, tablet):
    """Return a function that opens the worksheet of a folder in Voila on the tablet."""
    pages = []
    yield _opener(tablet, pages, lambda page, *given: hands.open_in_voila(page, voila, *given))
    for page in pages:
        page.close()  # which stops the kernel


def _opener(context, pages, show):
    def opened(*given):
        pages.append(context.new_page())
        show(pages[-1], *given)
        return pages[-1]

    return opened


@pytest.fixture(scope="session")
def shoot():
    """Return a function that keeps a screenshot of a page among the artefacts."""
    ARTEFACTS.mkdir(exist_ok=True)

    def keep(page, name):
        page.screenshot(path=ARTEFACTS / f"{name}.png")

    return keep
