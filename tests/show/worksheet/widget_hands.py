"""Hands on the widgets in Python: find them by class, press, type."""


def every(widget, name):
    """Return the widgets of a class inside a widget, those that are hidden too."""
    found = [widget] if name in getattr(widget, "_dom_classes", ()) else []
    for part in getattr(widget, "children", ()):
        found += every(part, name)
    return found


def one(widget, name, at=0):
    """Return one of the widgets of a class."""
    return every(widget, name)[at]


def texts(widget, name):
    """Return what the widgets of a class say, without those that say nothing."""
    said = [getattr(each, "value", None) or each.description for each in every(widget, name)]
    return [words for words in said if words]


def press(widget, name, at=0):
    """Press one of the buttons of a class."""
    one(widget, name, at).click()
