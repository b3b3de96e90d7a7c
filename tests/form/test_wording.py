"""How results are said."""

from uncertainties import ufloat

from metrolib.form import wording


def test_lengths_and_uncertainties():
    assert wording.measured_length(0.0123) == "12.3 µm"
    assert wording.measured_length(ufloat(0.0123, 0.00105)) == "12.3 µm, U = 2.1 µm (k = 2)"
    assert wording.measured_length(0.0254, "thou") == "1.00 thou"


def test_slopes():
    assert wording.slope(-0.00001) == "+0.0000 mm/m"
    assert wording.slope(ufloat(-0.02, 0.001)) == "-0.0200 mm/m, U = 0.0020 mm/m (k = 2)"


def test_places():
    assert wording.contacts([200, 700.5, 1300]) == "contacts at 200, 700.5 and 1300 mm"
    assert wording.contacts([200]) == "contact at 200 mm"


def test_table_escapes():
    assert "&lt;script&gt;" in wording.table("x", [("<script>", 1)])
