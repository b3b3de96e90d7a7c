"""README shows what the code does: its commands, its picture, its links."""

import re
import tomllib
from pathlib import Path

from PIL import Image

from tests import readme_picture

ROOT = Path(__file__).resolve().parents[1]
TEXTS = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    ROOT / "notebooks" / "words_of_the_trade.md",
    *sorted(ROOT.glob("sample_surveys/*/README.md")),
]


def test_the_picture_shows_the_plan_of_today():
    with Image.open(readme_picture.PICTURE) as picture:
        assert picture.text["Description"] == readme_picture.plan().in_words()


def test_every_link_to_a_file_leads_to_one():
    broken = [
        f"{text.name}: {target}"
        for text in TEXTS
        for target in re.findall(r"\]\(([^)#]+)\)", text.read_text(encoding="utf-8"))
        if "://" not in target and not (text.parent / target).exists()
    ]
    assert not broken


def test_each_command_sets_up_from_nothing():
    blocks = re.findall(r"```sh\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.S)
    main, tests, lab = (block.strip() for block in blocks)
    assert main.startswith("python3 -m venv .venv && ") and "-m metrolib sample_surveys/" in main
    assert tests.startswith("python3 -m venv .venv && ") and tests.endswith("-m pytest")
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"][
        "optional-dependencies"
    ]
    assert set(re.findall(r"\.\[(\w+)\]", main + tests + lab)) <= extras.keys()


def test_the_top_level_holds_nothing_else():
    kept = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "LICENSE",
        "metrolib",
        "notebooks",
        "tests",
        "sample_surveys",
    }
    tracked = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    made = {"build", "metrolib.egg-info", "metrolib_report.html", "mutants", "artefacts"}
    assert tracked - made == kept
