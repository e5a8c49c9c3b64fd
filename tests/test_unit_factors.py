"""The table of units against pint, the authority: every pair, and what is built of them."""

import re
from functools import cache

import pint
import pytest

from sensitivity.errors import QuantityError
from sensitivity.quantities.unit_factors import FACTORS
from sensitivity.quantities.units import SPELLINGS, TEMPERATURES, conversion, pint_expression

BUILT = ["ml/min", "g/min", "W/(m2 K)", "kg/m3", "g/ml", "lb/in3", "mm2", "in2", "cm3", "mPa s"]
BUILT += ["N/m", "mN/m", "Pa s", "kg/(m s)", "m/s2", "ft/min", "deg/m", "rad/mm", "1/K", "J/(kg K)"]
BUILT += ["1/s", "deg/s", "m2/s", "W/(m2 degC)", "degC/min", "ml/(min K)", "kg m/s2", "J/g"]
ANGLES = {"degree", "arcminute", "arcsecond", "radian", "milliradian"}
LAST_DIGITS = 4e-15  # pint multiplies floats, each rounded; the table is exact until the last step


@cache
def registry():
    found = pint.UnitRegistry(cache_folder=None)
    found.define("inch_H2O_39F = 249.08891 pascal")  # conventional inch of water, NIST SP 811
    found.define("millimetre_of_water = 9.80665 pascal")  # conventional, NIST SP 811
    found.define("turn_per_minute = 1 / minute")  # pint's own counts radians
    return found


def by_pint(unit, wanted):
    """Factor and offset; None where pint does not convert."""
    have, want = pint_expression(unit), pint_expression(wanted)
    try:
        if have in TEMPERATURES and want in TEMPERATURES:
            zero, one = (registry().Quantity(n, have).to(want).magnitude for n in (0.0, 1.0))
            return one - zero, zero
        return registry().Quantity(1.0, have).to(want).magnitude, 0.0
    except (pint.DimensionalityError, pint.OffsetUnitCalculusError):
        return None


def test_every_spelling_has_a_size():
    assert set(SPELLINGS.values()) == set(FACTORS)


@pytest.mark.parametrize("unit", [*SPELLINGS, *BUILT])
def test_conversions_are_those_of_pint(unit):
    for wanted in [*SPELLINGS, *BUILT]:
        if pint_expression(unit) == pint_expression(wanted):
            continue
        right = by_pint(unit, wanted)
        if _angles(unit) != _angles(wanted) or _alone(unit) != _alone(wanted):
            right = None  # to pint a radian is a pure number; to a builder it is not
        if right is None:
            with pytest.raises(QuantityError, match="does not convert"):
                conversion(unit, wanted)
        else:
            found = conversion(unit, wanted)
            assert found.factor == pytest.approx(right[0], rel=LAST_DIGITS), wanted
            assert found.offset == pytest.approx(right[1], rel=LAST_DIGITS, abs=1e-12), wanted


def _angles(unit):
    return sum(name in ANGLES for name in re.findall(r"\w+", pint_expression(unit)))


def _alone(unit):
    return pint_expression(unit) in TEMPERATURES


def test_units_of_the_shop_are_exact():
    # By definition: the inch is 25.4 mm (1959), so a thou 25.4 um; the pound is 0.45359237 kg.
    for unit, wanted, factor in (
        ("in", "mm", 25.4),
        ("thou", "um", 25.4),
        ("ft", "mm", 304.8),
        ("lb", "kg", 0.45359237),
        ("ml/min", "ml/s", 1.0 / 60.0),
    ):
        assert conversion(unit, wanted).factor == factor
