"""Run the notebooks and store them in one canonical spelling, so that a diff shows what changed.

Run it from the project's folder: ``python -m tests.run_notebooks [NOTEBOOK ...]``.
"""

import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient

NOTEBOOKS = Path(__file__).resolve().parents[1] / "notebooks"


def run(path, replaced=None):
    """Execute a notebook in its own folder and return it; `replaced` rewrites lines of its code.

    Parameters
    ----------
    path : Path
    replaced : dict of str to str, optional
        What a cell's source line starts with, and the line to put in its place.
    """
    notebook = nbformat.read(path, as_version=4)
    for start, line in (replaced or {}).items():
        _replace_line(notebook, start, line)
    client = NotebookClient(
        notebook,
        timeout=300,
        kernel_name="python3",
        record_timing=False,
        resources={"metadata": {"path": str(path.parent)}},
    )
    return client.execute()


def canonical(notebook):
    """Strip what changes from run to run or from one machine to the next."""
    notebook.metadata = nbformat.from_dict(
        {
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
            "language_info": {"name": "python"},
        }
    )
    for number, cell in enumerate(notebook.cells):
        cell.id = f"cell-{number:02d}"
        cell.metadata = {"tags": cell.metadata.tags} if cell.metadata.get("tags") else {}
        if cell.cell_type == "code":
            cell.outputs = _joined(cell.outputs)
            for output in cell.outputs:
                # a widget is gone when the notebook is opened again; its picture stays
                output.get("data", {}).pop("application/vnd.jupyter.widget-view+json", None)
    return notebook


def _joined(outputs):
    """Join what was printed piece by piece: where the pieces part is chance.

    A widget lives no longer than its kernel, and its name is chance: its words stay.
    """
    joined = []
    for output in outputs:
        output.get("data", {}).pop("application/vnd.jupyter.widget-view+json", None)
        last = joined[-1] if joined else None
        if last is not None and output.output_type == "stream" and last.get("name") == output.name:
            last.text += output.text
        else:
            joined.append(output)
    return joined


def _replace_line(notebook, start, line):
    for cell in notebook.cells:
        lines = cell.source.splitlines()
        if cell.cell_type == "code" and any(text.startswith(start) for text in lines):
            cell.source = "\n".join(line if text.startswith(start) else text for text in lines)
            return
    raise LookupError(f"no code line starts with {start!r}")


if __name__ == "__main__":
    for each in [Path(name) for name in sys.argv[1:]] or sorted(NOTEBOOKS.glob("*.ipynb")):
        nbformat.write(canonical(run(each.resolve())), each)
        print(f"{each.name} run and stored")
