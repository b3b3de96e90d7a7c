"""Methods: the user's own ways to take metal off, the tables [methods.NAME] in order of work."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Method:
    """One way to take metal off: a roughing cut, a file, a stone, a scraper.

    Attributes
    ----------
    name : str
    leaves : float
        Allowance that it leaves above the target, for the methods after it [mm].
    per_pass : float
        What one pass over the face takes off [mm].
    rate : float
        Metal removed in an hour of work [cm³/h].
    per_pass_uncertainty : float
        Standard uncertainty of `per_pass` at one place, scatter from place to place included [mm].
    rate_uncertainty : float
        Standard uncertainty of `rate` over one job [cm³/h].
    log : str
        Name of the log that the rate comes from; methods with the same log are off by the same
        share. Empty: a log of its own.
    note : str
    """

    name: str
    leaves: float
    per_pass: float
    rate: float
    per_pass_uncertainty: float = 0.0
    rate_uncertainty: float = 0.0
    log: str = ""
    note: str = ""


def take_method(section):
    """Return the `Method` of one table."""
    method = Method(
        name=section.path[-1],
        leaves=section.number("leaves", at_least=0),
        per_pass=section.number("per_pass", above=0),
        rate=section.number("rate", above=0),
        per_pass_uncertainty=section.number("per_pass_uncertainty", 0.0, at_least=0),
        rate_uncertainty=section.number("rate_uncertainty", 0.0, at_least=0),
        log=section.text("log", ""),
        note=section.text("note", ""),
    )
    section.finish()
    return method


def in_order(book, methods):
    """Return methods in order of work, and note those that cannot follow the one before.

    Parameters
    ----------
    book : Book
    methods : dict of str to Method

    Returns
    -------
    tuple of Method
    """
    methods = tuple(methods.values())
    for method, key, wrong, remedy in order_faults(methods):
        book.fault(("methods", method.name, key), f"method {method.name!r}: {wrong}", remedy)
    return methods


def order_faults(methods):
    """Return what is wrong with the order of methods.

    Parameters
    ----------
    methods : sequence of Method

    Returns
    -------
    list of (Method, str, str, str)
        The method, its key, what is wrong, and what to do.

    Examples
    --------
    >>> stone = Method("stone", leaves=0.0, per_pass=0.05, rate=1.0)
    >>> for _, key, wrong, _ in order_faults([Method("file", 0.025, 0.01, 6.0), stone]):
    ...     print(key, "-", wrong)
    per_pass - one pass takes 0.05 mm, but 'file' leaves only 0.025 mm for it
    """
    faults = []
    for before, method in zip(methods[:-1], methods[1:], strict=True):
        thick = before.leaves - method.leaves
        if thick <= 0:
            faults.append(
                (
                    method,
                    "leaves",
                    f"leaves is {method.leaves:g} mm, not below the {before.leaves:g} mm of "
                    f"{before.name!r} before it",
                    "write the methods in order of work, each leaving less than the one before",
                )
            )
        elif method.per_pass > thick + 1e-9:
            faults.append(
                (
                    method,
                    "per_pass",
                    f"one pass takes {method.per_pass:g} mm, but {before.name!r} leaves only "
                    f"{thick:g} mm for it",
                    f"let {before.name!r} leave at least {method.leaves + method.per_pass:g} mm, "
                    "or take a finer method",
                )
            )
    return faults
