"""In Jupyter: what stands for an open folder there, the screen to type on."""


def mimebundle(sheet, include=None, exclude=None):
    """Return the screen of a worksheet with its text, or the text where nothing can show a screen.

    Parameters
    ----------
    sheet : Worksheet or Beginning
    include, exclude : iterable of str, optional
        Kinds of output, as Jupyter asks for them.

    Returns
    -------
    dict
    """
    try:
        from metrolib.show.worksheet.screen.screen import screen
    except ImportError:
        return {"text/plain": str(sheet)}
    shown = screen(sheet)._repr_mimebundle_(include=include, exclude=exclude)
    return {**shown, "text/plain": str(sheet)}
