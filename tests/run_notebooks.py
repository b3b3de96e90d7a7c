"""Run the notebooks and store them in one canonical spelling, so that a diff shows what changed.

From the project's folder, ``python -m tests.run_notebooks [NOTEBOOK ...]`` stores them in place;
``python -m tests.run_notebooks NOTEBOOK --with FOLDER=my_lathe --to mine.ipynb`` runs one on a
survey of your own and stores that beside.
"""

import argparse
import ast
import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError

NOTEBOOKS = Path(__file__).resolve().parents[1] / "notebooks"

#: Tag of the cell whose numbers and folders may be given from outside.
PARAMETERS = "parameters"


def run(path, parameters=None):
    """Execute a notebook in its own folder and return it, with an error where one stopped it.

    Parameters
    ----------
    path : Path
    parameters : dict of str to str, optional
        New values of names in its cell of parameters.
    """
    notebook = with_parameters(nbformat.read(path, as_version=4), parameters or {})
    client = NotebookClient(
        notebook,
        timeout=300,
        kernel_name="python3",
        record_timing=False,
        resources={"metadata": {"path": str(path.parent)}},
    )
    return client.execute()


def with_parameters(notebook, parameters):
    """Put other values behind names in the notebook's cell of parameters; return the notebook.

    Raises
    ------
    LookupError
        If it has no such cell, or the cell does not set the name at the beginning of a line.
    """
    cells = [cell for cell in notebook.cells if PARAMETERS in cell.metadata.get("tags", [])]
    for name, value in parameters.items():
        lines = cells[0].source.splitlines() if cells else []
        if not any(line.startswith(f"{name} = ") for line in lines):
            known = [line.split(" = ")[0] for line in lines if " = " in line and line[0] != " "]
            raise LookupError(f"the notebook has no parameter {name!r}; it has {known}")
        new = [f"{name} = {value!r}" if line.startswith(f"{name} = ") else line for line in lines]
        cells[0].source = "\n".join(new)
    return notebook


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


def main(arguments=None):
    """Run notebooks by the words of a command line; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.run_notebooks", description=__doc__)
    parser.add_argument("notebooks", nargs="*", type=Path, help="all of them where none is named")
    parser.add_argument(
        "--with",
        dest="given",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="a name in the notebook's cell of parameters, and its value; may be given again",
    )
    parser.add_argument(
        "--to", type=Path, metavar="FILE", help="where to store the one that is run"
    )
    chosen = parser.parse_args(arguments)
    if (chosen.given or chosen.to) and not (chosen.to and len(chosen.notebooks) == 1):
        parser.error(
            "--with and --to go together, with one notebook: the stored one stays as it is"
        )
    try:
        parameters = dict(_parameter(given) for given in chosen.given)
        for path in chosen.notebooks or sorted(NOTEBOOKS.glob("*.ipynb")):
            nbformat.write(canonical(run(path.resolve(), parameters)), chosen.to or path)
            print(f"{path.name} run and stored{f' as {chosen.to}' if chosen.to else ''}")
    except (LookupError, OSError, CellExecutionError) as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def _parameter(given):
    """Part a name from its value: a number, a word or a folder, which is named from here."""
    name, _, text = given.partition("=")
    if Path(text).exists():
        return name, str(Path(text).resolve())
    try:
        return name, ast.literal_eval(text)
    except (ValueError, SyntaxError):
        return name, text


if __name__ == "__main__":
    sys.exit(main())
