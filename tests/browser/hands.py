"""What hands do at the worksheet: run the notebook, type readings, look at what is shown."""

import nbformat

#: The notebook under test: the worksheet, and below it what stays when no kernel runs.
CELLS = ("import metrolib\n\nsheet = metrolib.worksheet({folder!r})\nsheet", "print(sheet.result)")
NAME = "bench.ipynb"


def write_notebook(root, folder):
    """Write the notebook that opens the worksheet of a folder."""
    notebook = nbformat.v4.new_notebook(
        cells=[nbformat.v4.new_code_cell(cell.format(folder=folder)) for cell in CELLS],
        metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}},
    )
    nbformat.write(notebook, root / NAME)


def open_in_lab(page, server):
    """Open the notebook in JupyterLab and run it all."""
    page.goto(f"{server.url}/lab/tree/{NAME}?token={server.token}&reset")
    page.wait_for_function("window.jupyterapp && window.jupyterapp.restored")
    page.evaluate("() => window.jupyterapp.restored")
    page.locator("#jupyterlab-splash").wait_for(state="detached")
    page.locator(".jp-NotebookPanel .jp-Cell").first.wait_for()
    page.evaluate("() => window.jupyterapp.commands.execute('application:toggle-left-area')")
    _idle(page)
    run_all(page)


def run_all(page):
    """Run all cells and wait until the worksheet stands there."""
    page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
    page.locator(".metro-entry").wait_for(timeout=60_000)
    _idle(page)


def restart_kernel(page):
    """Kill the kernel's process outright and wait for the new one."""
    page.evaluate(
        """async () => {
             const panel = window.jupyterapp.shell.currentWidget;
             await panel.sessionContext.session.kernel.restart();
           }"""
    )
    _idle(page)


def _idle(page):
    page.wait_for_function(
        "() => window.jupyterapp.shell.currentWidget?.sessionContext?.session?.kernel?.status"
        " === 'idle'",
        timeout=60_000,
    )


def reading_field(page):
    """Return the entry field."""
    return page.locator(".metro-reading")


def type_readings(page, texts, delay):
    """Type readings, Enter after each, without waiting for anything; `delay` is ms per key."""
    reading_field(page).focus()
    for text in texts:
        page.keyboard.type(text, delay=delay)
        page.keyboard.press("Enter")
        page.wait_for_timeout(delay)
