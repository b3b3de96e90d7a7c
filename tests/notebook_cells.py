"""Run a notebook's cells in this process: quicker than a kernel, and its pictures are at hand."""

import base64
import os
import sys
import warnings
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from tempfile import TemporaryDirectory

import matplotlib
import nbformat
import numpy as np
from IPython.core.interactiveshell import InteractiveShell
from IPython.core.pylabtools import print_figure
from IPython.utils.capture import capture_output
from PIL import Image
from traitlets.config import Config

from tests.run_notebooks import with_parameters


@dataclass(frozen=True)
class Ran:
    """What one cell gave: its source, what it printed, its pictures (PNG), how it failed."""

    source: str
    printed: str
    pictures: list
    error: BaseException | None


def run_here(path, parameters=None):
    """Run the code cells of a notebook in its own folder until one fails; yield a `Ran` each.

    Parameters
    ----------
    path : Path
    parameters : dict of str to str, optional
        New values of names in its cell of parameters.
    """
    notebook = with_parameters(nbformat.read(path, as_version=4), parameters or {})
    with _shell(path.parent) as shell:
        for cell in notebook.cells:
            if cell.cell_type == "code":
                ran = _run_cell(shell, cell.source)
                yield ran
                if ran.error is not None and "raises-exception" not in cell.metadata.get(
                    "tags", []
                ):
                    return


def pictures_of(cell):
    """Return the pictures that a stored cell holds (PNG)."""
    found = [output.get("data", {}).get("image/png") for output in cell.get("outputs", [])]
    return [base64.b64decode(one) for one in found if one]


def thumbnail(picture):
    """Return the grey values (0 to 255) of a picture (PNG), 80 x 50, and its size in pixels."""
    with Image.open(BytesIO(picture)) as image:
        paper = Image.new("RGBA", image.size, "white")
        paper.alpha_composite(image.convert("RGBA"))
        small = paper.convert("L").resize((80, 50), Image.Resampling.BOX)
        return np.asarray(small, dtype=float), image.size


def _run_cell(shell, source):
    from matplotlib import pyplot

    with capture_output() as captured:
        shell.display_trap.hook = sys.displayhook  # what a cell ends with is kept with its picture
        result = shell.run_cell(source, silent=False)
        shown = [print_figure(pyplot.figure(number), "png") for number in pyplot.get_fignums()]
    pyplot.close("all")
    stored = [output.data["image/png"] for output in captured.outputs if "image/png" in output.data]
    told = [one if isinstance(one, bytes) else base64.b64decode(one) for one in stored]
    words = [output.data.get("text/plain", "") for output in captured.outputs]
    error = result.error_before_exec or result.error_in_exec
    return Ran(source, "\n".join([captured.stdout, captured.stderr, *words]), told + shown, error)


@contextmanager
def _shell(folder):
    """Lend a shell that works in a folder and leaves no trace, neither here nor at home."""
    from matplotlib import pyplot

    before = os.getcwd()
    with TemporaryDirectory() as home, warnings.catch_warnings():
        warnings.simplefilter("default")  # as in a kernel: a warning is printed
        os.environ["IPYTHONDIR"], kept = home, os.environ.get("IPYTHONDIR")
        InteractiveShell.clear_instance()
        shell = InteractiveShell.instance(config=Config(HistoryManager={"enabled": False}))
        try:
            os.chdir(folder)
            pyplot.switch_backend("agg")
            with matplotlib.rc_context():
                yield shell
        finally:
            os.chdir(before)
            pyplot.close("all")
            InteractiveShell.clear_instance()
            os.environ.pop("IPYTHONDIR")
            if kept is not None:
                os.environ["IPYTHONDIR"] = kept
