"""The house rules, read from the source: who may import whom, how large a file may be."""

import ast
import subprocess
import sys
from pathlib import Path

import metrolib

ROOT = Path(metrolib.__file__).parent

#: The floors from the ground up; a file imports only from its own floor and those below.
FLOORS = {
    "errors": 0,
    "checks": 1,
    "units": 2,
    "uncertain": 3,
    "survey": 4,
    "heights": 5,
    "form": 5,
    "rebuild": 6,
    "show": 7,
    "__init__": 8,
    "__main__": 8,
}
ONLY_SHOW = {"matplotlib", "ipywidgets", "anywidget"}
HEAVY = ("matplotlib", "ipywidgets", "pandas", "scipy", "uncertainties")


def _room(path):
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def _imports(path):
    """Yield (module, line, inside a function) for each import of a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    inner = {
        id(node)
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef)
        for node in ast.walk(function)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for name in node.names:
                yield name.name, node.lineno, id(node) in inner
        elif isinstance(node, ast.ImportFrom):
            names = [f"{node.module}.{name.name}" for name in node.names]
            for name in names if node.module == "metrolib" else [node.module]:
                yield name, node.lineno, id(node) in inner


def _files():
    return sorted(ROOT.rglob("*.py"))


def test_imports_go_only_downward():
    wrong = []
    for path in _files():
        floor = FLOORS[_room(path)]
        for module, line, _ in _imports(path):
            parts = module.split(".")
            if parts[0] != "metrolib" or len(parts) < 2:
                continue
            other = FLOORS[parts[1]]
            sideways = other == floor and parts[1] != _room(path) and floor < 8
            if other > floor or sideways:
                wrong.append(f"{path.relative_to(ROOT)}:{line} may not import {module}")
    assert not wrong, "\n".join(wrong)


def test_only_show_draws():
    wrong = [
        f"{path.relative_to(ROOT)}:{line} imports {module}"
        for path in _files()
        for module, line, _ in _imports(path)
        if module.split(".")[0] in ONLY_SHOW and _room(path) != "show"
    ]
    assert not wrong, "only show may draw:\n" + "\n".join(wrong)


def test_pandas_stays_inside_functions_or_show():
    wrong = [
        f"{path.relative_to(ROOT)}:{line}"
        for path in _files()
        for module, line, inside in _imports(path)
        if module.split(".")[0] == "pandas" and not inside and _room(path) != "show"
    ]
    assert not wrong, "pandas is imported where it is used:\n" + "\n".join(wrong)


def test_files_stay_small_enough_to_read():
    long = {
        str(path.relative_to(ROOT)): lines
        for path in _files()
        if (lines := path.read_text(encoding="utf-8").count("\n")) > 350
    }
    assert not long, f"a file that outgrows 350 lines holds two concepts: {long}"


def test_import_is_light():
    code = f"import sys, metrolib; print([name for name in {HEAVY!r} if name in sys.modules])"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert loaded.stdout.strip() == "[]"


def test_every_public_name_loads_and_has_a_docstring():
    for name in metrolib.__all__:
        assert getattr(metrolib, name).__doc__, f"{name} has no docstring"
    assert set(metrolib.__all__) < set(dir(metrolib))


def test_every_public_function_is_reached_from_a_notebook_or_the_report():
    told = [
        # the index names all, and uses none
        *(ROOT.parent / "notebooks").glob("[!i]*.ipynb"),
        *(ROOT / "show").rglob("*.py"),
        ROOT / "__main__.py",
    ]
    text = "\n".join(path.read_text(encoding="utf-8") for path in told)
    functions = [name for name in metrolib.__all__ if name[0].islower()]
    missing = [name for name in functions if f"{name}(" not in text]
    assert not missing, f"no notebook or report uses {missing}"
