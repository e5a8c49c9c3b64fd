"""Fuel properties against live libraries and published formulae, 0 to 60 degC."""

import numpy as np
import pytest
from CoolProp.CoolProp import QT_INPUTS, AbstractState, PropsSI, iP, iT

from models import fuel

CELSIUS = np.linspace(0.0, 60.0, 61)
ATMOSPHERE = 101_325.0


def at_one_atmosphere(quantity, name="Ethanol"):
    return PropsSI(quantity, "T", CELSIUS + 273.15, "P", ATMOSPHERE, name)


def saturated(quantity, name="Ethanol"):
    return PropsSI(quantity, "T", CELSIUS + 273.15, "Q", 0, name)


# CoolProp: ethanol by Schroeder, Penoncello and Schroeder 2014 (equation of state), Kiselev
# and others 2005 (viscosity), Mulero, Cachadina and Parra 2012 (surface tension). Each
# tolerance is what the function's own docstring states.


def test_density():
    np.testing.assert_allclose(fuel.density(CELSIUS), at_one_atmosphere("D"), rtol=1.2e-4)
    np.testing.assert_allclose(fuel.density(CELSIUS), saturated("D"), rtol=2e-4)


def test_viscosity():
    computed = fuel.viscosity(CELSIUS)
    np.testing.assert_allclose(computed, 1e3 * at_one_atmosphere("V"), rtol=1.3e-4)


def test_surface_tension_lies_between_two_data_sets():
    ratio = 1e3 * saturated("I") / fuel.surface_tension(CELSIUS)
    assert ratio[0] == pytest.approx(1.010, abs=0.0005)
    assert ratio[-1] == pytest.approx(0.970, abs=0.0005)
    assert (np.diff(ratio) < 0.0).all()


def test_vapour_pressure():
    np.testing.assert_allclose(fuel.vapour_pressure(CELSIUS), saturated("P"), rtol=8e-4)


def test_vapour_pressure_slope():
    state = AbstractState("HEOS", "Ethanol")
    slopes = []
    for celsius in CELSIUS:
        state.update(QT_INPUTS, 0.0, celsius + 273.15)
        slopes.append(state.first_saturation_deriv(iP, iT))
    np.testing.assert_allclose(fuel.vapour_pressure_slope(CELSIUS), slopes, rtol=5e-3)


# Methanol: both pure liquids from CoolProp, mixed here by the ideal rules.

TENTH = (0.1 / 32.042) / (0.1 / 32.042 + 0.9 / 46.069)  # mole fraction of 10 % by mass


def test_methanol_raises_vapour_pressure_by_raoults_law():
    ideal = (1.0 - TENTH) * saturated("P") + TENTH * saturated("P", "Methanol")
    np.testing.assert_allclose(fuel.vapour_pressure(CELSIUS, 0.1), ideal, rtol=8e-4)
    assert fuel.vapour_pressure(20.0, 0.1) / fuel.vapour_pressure(20.0) == pytest.approx(
        1.17, abs=0.005
    )


def test_methanol_thins_by_the_mean_of_the_logarithms():
    ethanol, methanol = saturated("V"), saturated("V", "Methanol")
    ideal = ethanol ** (1.0 - TENTH) * methanol**TENTH / ethanol
    computed = fuel.viscosity(CELSIUS, 0.0, 0.1) / fuel.viscosity(CELSIUS)
    np.testing.assert_allclose(computed, ideal, rtol=5e-5)
    assert computed[20] == pytest.approx(0.91, abs=0.005)


def test_what_leaving_methanol_out_costs():
    # Volumes and surface tensions added by mass: the size of what the docstrings leave out.
    tenth = 1.0 / (0.9 / at_one_atmosphere("D") + 0.1 / at_one_atmosphere("D", "Methanol"))
    np.testing.assert_allclose(tenth, at_one_atmosphere("D"), rtol=5e-4)
    methanol = 1e3 * saturated("I", "Methanol")
    np.testing.assert_allclose(methanol, fuel.surface_tension(CELSIUS), rtol=0.01)


# Water: the general formula of OIML R 22:1975 (the same as in directive 76/766/EEC), density
# of ethanol and water by mass fraction p of ethanol, -20 to 40 degC, d = t - 20:
# rho = sum A_i p^i + sum B_i d^(i+1) + sum C_ij p^(j+1) d^(i+1).

A = [
    9.9820123e2, -1.929769495e2, 3.891238958e2, -1.668103923e3, 1.352215441e4, -8.829278388e4,
    3.062874042e5, -6.138381234e5, 7.470172998e5, -5.478461354e5, 2.234460334e5, -3.903285426e4,
]  # fmt: skip
B = [-2.0618513e-1, -5.2682542e-3, 3.6130013e-5, -3.8957702e-7, 7.169354e-9, -9.9739231e-11]
C = [
    [
        1.693443461530087e-1, -1.046914743455169e1, 7.196353469546523e1, -7.047478054272792e2,
        3.924090430035045e3, -1.210164659068747e4, 2.248646550400788e4, -2.605562982188164e4,
        1.852373922069467e4, -7.420201433430137e3, 1.285617841998974e3,
    ],
    [
        -1.19301300505701e-2, 2.517399633803461e-1, -2.170575700536993, 1.353034988843029e1,
        -5.029988758547014e1, 1.09635566657757e2, -1.422753946421155e2, 1.08043594285623e2,
        -4.414153236817392e1, 7.442971530188783,
    ],
    [
        -6.802995733503803e-4, 1.876837790289664e-2, -2.002561813734156e-1, 1.02299296671922,
        -2.895696483903638, 4.810060584300675, -4.672147440794683, 2.458043105903461,
        -5.411227621436812e-1,
    ],
    [4.075376675622027e-6, -8.76305857347111e-6, 6.515031360099368e-6, -1.51578483698721e-6],
    [-2.788074354782409e-8, 1.345612883493354e-8],
]  # fmt: skip


def alcoholometric_density(celsius, ethanol):
    d = celsius - 20.0
    total = sum(a * ethanol**i for i, a in enumerate(A))
    total = total + sum(b * d ** (i + 1) for i, b in enumerate(B))
    return total + sum(
        c * ethanol ** (j + 1) * d ** (i + 1) for i, row in enumerate(C) for j, c in enumerate(row)
    )


def test_the_formula_was_copied_right():
    # Pure water at 20 degC: A_1 itself is the tables' 998.201 kg/m3; at 40 and 4 degC the
    # formula has to give the density of water by IAPWS-95.
    celsius = np.array([4.0, 20.0, 40.0])
    water = PropsSI("D", "T", celsius + 273.15, "P", ATMOSPHERE, "Water")
    np.testing.assert_allclose(alcoholometric_density(celsius, 0.0), water, rtol=1e-5)
    # Pure ethanol: the equation of state of 2014 parts from it by 0.03 %.
    ethanol = PropsSI("D", "T", celsius + 273.15, "P", ATMOSPHERE, "Ethanol")
    np.testing.assert_allclose(alcoholometric_density(celsius, 1.0), ethanol, rtol=3e-4)


def test_density_with_water():
    celsius = np.linspace(0.0, 40.0, 41)[:, None]
    water = np.linspace(0.0, 0.15, 31)
    printed = alcoholometric_density(celsius, 1.0 - water)
    np.testing.assert_allclose(fuel.density(celsius, water), printed, rtol=3e-4)


# Combustion, from CODATA heats of formation at 25 degC (Cox, Wagman and Medvedev 1989), kJ/mol;
# ethanol -277.69 (the `chemicals` library, after CRC). Molar masses: IUPAC 2021, abridged.

CARBON_DIOXIDE, STEAM, WATER, ETHANOL = -393.51, -241.826, -285.830, -277.69


@pytest.mark.parametrize("water", [0.0, 0.05, 0.15])
def test_lower_heating_value(water):
    ethanol = (ETHANOL - 2.0 * CARBON_DIOXIDE - 3.0 * STEAM) / 46.069
    evaporation = (STEAM - WATER) / 18.015
    expected = ethanol * (1.0 - water) - evaporation * water
    # 0.2 % is the doubt stated; the two heats of formation of ethanol differ by 0.02 %.
    assert fuel.lower_heating_value(water) == pytest.approx(expected, rel=5e-4)


def test_stoichiometric_air():
    air_per_oxygen = 28.9647 / 0.20946  # g of dry air to a mole of oxygen
    expected = 3.0 * air_per_oxygen / (2 * 12.011 + 6 * 1.008 + 15.999)
    assert fuel.stoichiometric_air() == pytest.approx(expected, rel=1e-4)
    assert fuel.stoichiometric_air(0.1) == pytest.approx(0.9 * expected, rel=1e-4)
