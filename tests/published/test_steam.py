"""Steam and water against CoolProp (IAPWS-95), and a balance worked with it.

Each tolerance is what the function's own docstring states.
"""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from models import steam

BAR = np.linspace(1.0, 8.0, 141)
CELSIUS = np.linspace(0.01, 171.0, 172)


def dry(quantity, bar):
    return PropsSI(quantity, "P", 1e5 * bar, "Q", 1, "Water")


def boiling(quantity, celsius):
    return PropsSI(quantity, "T", celsius + 273.15, "Q", 0, "Water")


def test_saturation_temperature():
    expected = dry("T", BAR) - 273.15
    np.testing.assert_allclose(steam.saturation_temperature(BAR), expected, rtol=0.0, atol=0.1)


def test_vapour_density():
    np.testing.assert_allclose(steam.vapour_density(BAR), dry("D", BAR), rtol=2.5e-3)


def test_vapour_enthalpy():
    expected = 1e-3 * dry("H", BAR)
    np.testing.assert_allclose(steam.vapour_enthalpy(BAR), expected, rtol=0.0, atol=0.1)


def test_liquid_enthalpy():
    expected = 1e-3 * boiling("H", CELSIUS)
    np.testing.assert_allclose(steam.liquid_enthalpy(CELSIUS), expected, rtol=0.0, atol=0.1)


def test_liquid_enthalpy_of_feed_under_pressure():
    """Feed pumped into a boiler at 5 bar is compressed, not saturated."""
    cold = np.linspace(5.0, 100.0, 20)
    expected = 1e-3 * PropsSI("H", "T", cold + 273.15, "P", 5e5, "Water")
    np.testing.assert_allclose(steam.liquid_enthalpy(cold), expected, rtol=0.0, atol=0.6)


def test_liquid_density():
    np.testing.assert_allclose(steam.liquid_density(CELSIUS), boiling("D", CELSIUS), rtol=9e-4)


@pytest.mark.parametrize("gauge", [0.0, 1.0, 3.0, 6.9])
@pytest.mark.parametrize("feed", [10.0, 60.0, 99.0])
def test_balance(gauge, feed):
    """First law and swept volume with properties from CoolProp throughout."""
    absolute = gauge + 1.01325
    heat = 1e-3 * (dry("H", absolute) - boiling("H", feed))  # J/g
    made = 60.0 * (620.0 - 35.0) / heat
    litres = 4.0 * 0.7 * 240.0 * np.pi / 4.0 * 0.12**2 * 0.18
    used = 1.5 + 2.0 * litres * dry("D", absolute)
    result = steam.steam_balance(
        heat_to_boiler=620.0,
        shell_loss=35.0,
        feed_temperature=feed,
        steam_pressure=gauge,
        piston_bore=12.0,
        piston_stroke=18.0,
        cylinders=2.0,
        cutoff=0.7,
        revolutions=240.0,
        condensation_factor=2.0,
        blower_steam=1.5,
        water_volume=150.0,
        fuel_volume=75.0,
        burn_rate=2.5,
    )
    assert result.steam_made == pytest.approx(made, rel=5e-4)
    assert result.steam_used == pytest.approx(used, rel=2.5e-3)
    assert result.steam_balance == pytest.approx(result.steam_made - result.steam_used, abs=1e-12)
    water = 0.15 * boiling("D", feed)
    assert result.water_endurance == pytest.approx(water / max(made, used), rel=3e-3)
    assert result.fuel_endurance == pytest.approx(30.0)
