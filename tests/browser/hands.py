"""What hands do at the worksheet: run the notebook, type readings, look at what is shown."""

import re

import nbformat
from playwright.sync_api import expect

_OPEN_WITHIN = 300_000  # ms; a kernel that starts on a busy machine is slow

#: The notebook under test: the worksheet, and below it what stays when no kernel runs.
CELLS = ("import metrolib\n\nsheet = metrolib.worksheet({folder!r})\nsheet", "print(sheet.result)")


def write_notebook(folder):
    """Write, beside a folder, the notebook that opens its worksheet; return its path."""
    notebook = nbformat.v4.new_notebook(
        cells=[nbformat.v4.new_code_cell(cell.format(folder=folder.name)) for cell in CELLS],
        metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}},
    )
    nbformat.write(notebook, folder.with_suffix(".ipynb"))
    return folder.with_suffix(".ipynb")


def open_in_lab(page, server, folder, ready=".metro-entry"):
    """Open the worksheet of a folder in JupyterLab, until `ready` stands there."""
    path = write_notebook(folder).relative_to(server.root)
    page.goto(f"{server.url}/lab/tree/{path}?token={server.token}&reset", timeout=_OPEN_WITHIN)
    page.wait_for_function("window.jupyterapp && window.jupyterapp.restored")
    page.evaluate("() => window.jupyterapp.restored")
    page.locator("#jupyterlab-splash").wait_for(state="detached")
    page.locator(".jp-NotebookPanel .jp-Cell").first.wait_for()
    page.evaluate("() => window.jupyterapp.commands.execute('application:toggle-left-area')")
    _idle(page)
    run_all(page, ready)


def open_in_voila(page, server, folder, ready=".metro-entry"):
    """Open the worksheet of a folder in Voila, until `ready` stands there."""
    path = write_notebook(folder).relative_to(server.root)
    visit_voila(page, server, path, ready)


def visit_voila(page, server, notebook, ready):
    """Open a notebook in Voila, which runs it first, until `ready` stands there."""
    page.goto(f"{server.url}/voila/render/{notebook}", timeout=_OPEN_WITHIN)
    page.locator(ready).wait_for(timeout=_OPEN_WITHIN)


def run_all(page, ready=".metro-entry"):
    """Run all cells and wait until the worksheet stands there."""
    page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
    page.locator(ready).wait_for(timeout=_OPEN_WITHIN)
    _idle(page)


def _idle(page):
    page.wait_for_function(
        "() => window.jupyterapp.shell.currentWidget?.sessionContext?.session?.kernel?.status"
        " === 'idle'",
        timeout=_OPEN_WITHIN,
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


def turn_to(page, name):
    """Turn to a page of the worksheet by keyboard."""
    page.locator(".metro-sheet button").first.focus()
    reached = (
        "name => document.activeElement.matches('.metro-page')"
        " && document.activeElement.textContent.includes(name)"
    )
    _tab_until(page, reached, name)
    page.keyboard.press("Enter")
    expect(page.locator(".metro-current")).to_contain_text(name)


def choose(page, traverse):
    """Choose a traverse, on the page of readings, and wait until its course is there."""
    if page.locator(".metro-current", has_text="Take readings").count() == 0:
        turn_to(page, "Take readings")
    page.locator(".metro-traverse select").select_option(label=traverse)
    page.wait_for_function(
        "name => document.querySelector('.metro-entry')?.dataset.traverse === name", arg=traverse
    )


def expect_taken(page, count):
    """Wait until so many readings are taken and none is on its way."""
    expect(page.locator(".metro-progress")).to_have_text(re.compile(f"^{count} of"))
    expect(page.locator(".metro-state")).not_to_contain_text("being written")


def press(button):
    """Press a button, once it can be pressed, by Enter."""
    expect(button).to_be_enabled()
    button.press("Enter")


def press_by_keyboard(page, selector):
    """Go to a button by Tab alone and press it by Enter."""
    tab_to(page, selector)
    page.keyboard.press("Enter")


def tab_to(page, selector):
    """Go to a field or a button by Tab alone, once it is there."""
    page.locator(selector).wait_for()
    _tab_until(page, "css => document.activeElement.matches(css)", selector)


def _tab_until(page, reached, what):
    for _ in range(60):
        if page.evaluate(reached, what):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never came to {what}")


def expect_no_sideways_scroll(page, within):
    """Wait until nothing inside of an element asks to be scrolled sideways."""
    page.wait_for_function(
        """css => {
             const at = document.querySelector(css);
             return at.scrollWidth <= at.clientWidth;
           }""",
        arg=within,
    )


def sizes(buttons):
    """Return width and height of buttons, all at one moment; there is one at least."""
    buttons.first.wait_for()
    return buttons.evaluate_all(
        """all => all.map(each => {
             const { width, height } = each.getBoundingClientRect();
             return [width, height];
           })"""
    )


def focus_order(page):
    """Return class and width of the ring of all that Tab comes to inside the worksheet."""
    page.evaluate("() => document.querySelector('.metro-sheet button').focus()")
    found = []
    for _ in range(40):
        page.keyboard.press("Tab")
        at = page.evaluate(
            """() => {
                 const at = document.activeElement;
                 if (!at.closest('.metro-sheet')) return null;
                 const names = (at.closest('.metro-field') ?? at).className + ' ' + at.className;
                 return [names, parseFloat(getComputedStyle(at).outlineWidth)];
               }"""
        )
        if at is None:
            break
        found.append(at)
    page.evaluate("() => document.querySelector('.metro-reading').focus()")
    return found


def kernel_id(page):
    """Return the id of the kernel that the notebook runs in."""
    return page.evaluate(
        "() => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.id"
    )


def shut_down(page):
    """Stop the kernel of the notebook, so that later tests have the machine for themselves."""
    page.evaluate("() => window.jupyterapp.shell.currentWidget.sessionContext.shutdown()")


def wait_for_restart(page):
    """Wait until the server has started a new kernel in place of the one that died."""
    # JupyterLab tells it in a dialog; the state that it goes through may be too short to be seen
    page.locator(".jp-Dialog").get_by_role("button", name="Ok").click(timeout=_OPEN_WITHIN)
    _idle(page)


def set_theme(page, name):
    """Change the theme of JupyterLab and wait until it holds."""
    page.evaluate(
        "theme => window.jupyterapp.commands.execute('apputils:change-theme', { theme })", name
    )
    light = str(name.endswith("Light")).lower()
    page.wait_for_function("light => document.body.dataset.jpThemeLight === light", arg=light)


def faint_words(page):
    """Return all words of the worksheet whose contrast is below 4.5, each with its contrast.

    Contrast by relative luminance, and the limit for small letters: WCAG 2.2, 1.4.3 (from memory).
    """
    return page.evaluate(
        """() => {
             const parse = (text) => text.match(/[\\d.]+/g).map(Number);
             const light = (rgb) => {
               const part = rgb.slice(0, 3).map((c) => c / 255);
               const [r, g, b] = part.map((c) =>
                 c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
               return 0.2126 * r + 0.7152 * g + 0.0722 * b;
             };
             const ground = (at) => {
               for (; at; at = at.parentElement) {
                 const [r, g, b, a = 1] = parse(getComputedStyle(at).backgroundColor);
                 if (a > 0.9) return [r, g, b];
               }
               return [255, 255, 255];
             };
             const faint = [];
             for (const at of document.querySelectorAll('.metro-sheet *')) {
               const own = [...at.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
               const shown = own || ['INPUT', 'SELECT'].includes(at.tagName);
               if (!shown || !at.checkVisibility() || at.tagName === 'STYLE') continue;
               const [one, two] = [light(parse(getComputedStyle(at).color)), light(ground(at))];
               const contrast = (Math.max(one, two) + 0.05) / (Math.min(one, two) + 0.05);
               if (contrast < 4.5) faint.push([at.className, at.textContent, contrast]);
             }
             return faint;
           }"""
    )
