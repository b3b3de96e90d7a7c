"""Compare a number with one as it is printed; the tolerance comes from the printed text itself."""

from decimal import Decimal


def half_unit(text):
    """Return half a unit of the last digit of a number as printed, such as "0.0035" or "-5.0e-5".

    >>> half_unit("0.0035"), half_unit("93"), half_unit("1.50e3")
    (5e-05, 0.5, 5.0)
    """
    return 0.5 * 10.0 ** Decimal(text).as_tuple().exponent


def assert_printed(value, text, *, rounding=0.0):
    """Assert that a value rounds to the digits printed.

    `rounding` is what arithmetic alone may do to the value where it lies on the edge of two
    roundings; half a unit is exceeded by it and by a billionth, never by more.
    """
    most = half_unit(text) * (1 + 1e-9) + rounding
    assert abs(float(value) - float(text)) <= most, f"{float(value)!r} is not printed as {text}"
