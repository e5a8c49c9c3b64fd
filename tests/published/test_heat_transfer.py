"""Heat transfer and friction against ht, fluids, printed tables and fresh solutions.

Each tolerance is what the function's own docstring states.
"""

import fluids
import ht
import numpy as np
import pytest
from scipy.linalg import eigh
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros
from scipy.stats import lognorm

from models import heat_exchange
from models.draught import GasState, air_way, drawn_air, pressure_drops, reynolds_number
from models.fire import burnt_fraction


def graetz_problem(basis, slope, area, profile):
    """Eigenvalues, and the share of the heat in each mode, by Galerkin's method.

    profile dT/dx = laplacian of T, T = 1 at the inlet and 0 on the wall; `basis` and `slope`
    are functions that vanish on the wall and their slopes, at points that stand for `area`.
    """
    values, modes = eigh((slope * area) @ slope.T, (basis * area * profile) @ basis.T)
    shares = (modes.T @ (basis * area * profile).sum(axis=1)) ** 2
    return values, shares / (area * profile).sum()


NODE, WEIGHT = np.polynomial.legendre.leggauss(400)
Y = 0.5 * (NODE + 1.0)
ZEROS = jn_zeros(0, 80)[:, np.newaxis]
WAVES = (np.arange(80)[:, np.newaxis] + 0.5) * np.pi
TUBE = graetz_problem(j0(ZEROS * Y), -ZEROS * j1(ZEROS * Y), WEIGHT * Y, 1.0 - Y * Y)
PLATES = graetz_problem(np.cos(WAVES * Y), -WAVES * np.sin(WAVES * Y), WEIGHT, 1.0 - Y * Y)


def exact_nusselt(problem, graetz, length):
    """Mean Nusselt number from what is left of the temperature difference, exp(-4 Nu/Gz)."""
    values, shares = problem
    left = (shares * np.exp(-values * length / graetz)).sum()
    return -0.25 * graetz * np.log(left)


def test_fresh_solution_has_the_classical_eigenvalues():
    """Graetz 1885, as in Shah and London 1978: 2.7044, 6.6790, 10.6734; 1.6816, 5.6699."""
    np.testing.assert_allclose(np.sqrt(TUBE[0][:3]), [2.7044, 6.6790, 10.6734], atol=6e-5)
    np.testing.assert_allclose(np.sqrt(PLATES[0][:2]), [1.6816, 5.6699], atol=6e-5)
    assert TUBE[1].sum() == pytest.approx(1.0, abs=1e-4)
    assert PLATES[1].sum() == pytest.approx(1.0, abs=1e-4)


# Lengths in the problem's own scale: tube, x/(R u_max) alpha/R = 2/Gz; plates, half the gap a
# quarter of the hydraulic diameter and u_max 1.5 of the mean: 32/(3 Gz).


@pytest.mark.parametrize(
    ("graetz", "printed", "left"),
    [
        (1.0, 3.7067, 3.6e-7),
        (3.55, 3.8339, 0.01330),
        (10.65, 4.1880, 0.20743),
        (17.75, 4.5347, 0.35991),
        (35.5, 5.2992, 0.55041),
        (100.0, 7.1553, 0.75110),
    ],
)
def test_hausen_lies_a_little_above_the_graetz_table(graetz, printed, left):
    """Printed: mean Nusselt numbers and temperature ratios of an independent eigensolution."""
    fresh = exact_nusselt(TUBE, graetz, 2.0)
    assert fresh == pytest.approx(printed, abs=1e-4)  # printed one digit high at 100
    assert heat_exchange.left_over(4.0 * printed / graetz) == pytest.approx(
        left, rel=2e-2 if graetz == 1.0 else 1e-3
    )
    assert 1.003 <= heat_exchange.nusselt_tube(graetz) / fresh <= 1.017


@pytest.mark.parametrize("graetz", np.geomspace(0.5, 1000.0, 12))
def test_parallel_plates_lie_near_the_exact_solution(graetz):
    fresh = exact_nusselt(PLATES, graetz, 32.0 / 3.0)
    assert heat_exchange.nusselt_parallel_plates(graetz) == pytest.approx(fresh, rel=2e-2)


@pytest.mark.parametrize("reynolds", [50.0, 300.0, 2000.0])
@pytest.mark.parametrize("slenderness", [10.0, 20.0, 60.0])
def test_hausen_is_that_of_ht(reynolds, slenderness):
    bore, prandtl = 0.0085, 0.71
    length = slenderness * bore
    expected = ht.conv_internal.laminar_entry_thermal_Hausen(reynolds, prandtl, length, bore)
    # Any gas of this Prandtl number: the Graetz number knows only flow, cp, k and length.
    cp, k = 1200.0, 0.07
    viscosity = prandtl * k / cp
    flow = reynolds * np.pi / 4.0 * bore * viscosity
    graetz = heat_exchange.graetz_number(flow, cp, k, length)
    assert heat_exchange.nusselt_tube(graetz) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("units", [0.0, 0.01, 0.5, 1.0, 3.0, 10.0])
def test_effectiveness_is_that_of_ht(units):
    expected = ht.hx.effectiveness_from_NTU(units, Cr=0, subtype="boiler")
    assert 1.0 - heat_exchange.left_over(units) == pytest.approx(expected, rel=1e-12)


def test_radiation_is_that_of_ht():
    hot, cold = 1500.0, 430.0
    expected = ht.radiation.q_rad(1.0, hot, cold) / (hot - cold)
    assert heat_exchange.radiation_coefficient(hot, cold) == pytest.approx(expected, rel=2e-6)


@pytest.mark.parametrize(
    ("path", "printed"),
    [
        (0.3070 * 0.020, [0.0441, 0.0290, 0.0173]),
        (0.3070 * 0.040, [0.0676, 0.0466, 0.0296]),
        (0.2140 * 0.020, [0.0349, 0.0223, 0.0129]),
        (0.2140 * 0.040, [0.0540, 0.0364, 0.0225]),
    ],
)
def test_gas_emissivity_against_leckner(path, printed):
    """Leckner 1972 (Combust. Flame 19, 33; coefficients from memory) at 1000, 1400, 1800 K."""
    computed = heat_exchange.gas_emissivity(np.array([1000.0, 1400.0, 1800.0]), path)
    np.testing.assert_allclose(computed, printed, rtol=0.14)


def test_gas_emissivity_is_the_mean_of_the_published_sets():
    """Smith, Shen and Friedman 1982, steam to carbon dioxide 2 and 1 (tables from memory)."""
    two = [
        (0.4201, [6.508e-1, -5.551e-4, 3.029e-7, -5.353e-11]),
        (6.516, [-0.2504e-1, 6.112e-4, -3.882e-7, 6.528e-11]),
        (131.9, [2.718e-1, -3.118e-4, 1.221e-7, -1.612e-11]),
    ]
    one = [
        (0.4303, [5.150e-1, -2.303e-4, 0.9779e-7, -1.494e-11]),
        (7.055, [0.7749e-1, 3.399e-4, -2.297e-7, 3.770e-11]),
        (178.1, [1.907e-1, -1.824e-4, 0.5608e-7, -0.5122e-11]),
    ]
    kelvin = np.linspace(700.0, 2200.0, 7)
    for path in (0.002, 0.006, 0.012):
        both = [
            sum(np.polynomial.polynomial.polyval(kelvin, a) * (1 - np.exp(-k * path)) for k, a in s)
            for s in (one, two)
        ]
        computed = heat_exchange.gas_emissivity(kelvin, path)
        # Averaging coefficients is not averaging emissivities, but nearly.
        np.testing.assert_allclose(computed, np.mean(both, axis=0), rtol=2e-2)


@pytest.mark.parametrize("film", [0.5, 20.0, 400.0])
@pytest.mark.parametrize("emissivity", [1e-4, 0.3, 1.8])
def test_plate_balance_is_that_of_a_root_finder(film, emissivity):
    walls, around = 417.0, 1500.0

    def balance(kelvin):
        shines = emissivity * heat_exchange.STEFAN_BOLTZMANN * (kelvin**4 - walls**4)
        return film * (around - kelvin) - shines

    expected = brentq(balance, walls, around, xtol=1e-12)
    computed = heat_exchange.plate_temperature(film * around, film, emissivity, walls)
    assert computed == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize("air_ratio", [0.2, 0.9, 1.0, 1.3, 3.0])
@pytest.mark.parametrize("unmixedness", [0.05, 0.35, 0.8])
def test_burnt_fraction_is_the_mean_over_the_distribution(air_ratio, unmixedness):
    local = lognorm(s=unmixedness, scale=air_ratio * np.exp(-0.5 * unmixedness**2))
    starved = local.expect(lambda x: x, lb=0.0, ub=1.0)
    assert burnt_fraction(air_ratio, unmixedness) == pytest.approx(
        starved + local.sf(1.0), rel=1e-7
    )


# Friction.

COLD = {"air_density": 1.2041, "fuel": 0.0}


def test_two_orifices_in_series():
    """An inlet of 30 mm2 (Cd 0.65, cold) and an outlet of 60 mm2 (Cd 0.8, 500 K) at 30 Pa.

    Solved independently: 0.146414 g/s, 23.410 and 6.590 Pa.
    """
    way = air_way(
        inlet_area=30e-6,
        bypass_area=0.0,
        discharge_coefficient=0.65,
        gap=1e-3,
        width=60e-3 * 0.8 / 0.65,
        passage_length=0.0,
        tube_count=1e9,
        tube_bore=0.1,
        tube_length=0.0,
        **COLD,
    )
    gas = GasState(0.70596, 0.70596, 2.7e-5, 0.70596, 2.7e-5)
    air = drawn_air(way, gas, 30.0)
    assert 1e3 * air == pytest.approx(0.146414, abs=6e-7)
    drops = pressure_drops(way, gas, air)
    assert drops.inlet == pytest.approx(23.410, abs=6e-4)
    assert drops.gap == pytest.approx(6.590, abs=6e-4)
    assert drops.passage + drops.tubes == pytest.approx(0.0, abs=1e-9)


WAY = {
    "inlet_area": 150e-6,
    "bypass_area": 10e-6,
    "discharge_coefficient": 0.65,
    "gap": 5e-3,
    "width": 45e-3,
    "passage_length": 30e-3,
    "tube_count": 7.0,
    "tube_bore": 8.5e-3,
    "tube_length": 150e-3,
    "air_density": 1.2041,
}
GAS = GasState(0.22, 0.25, 4.9e-5, 0.44, 3.6e-5)


def test_tubes_are_those_of_fluids():
    """fluids.one_phase_dP for the friction, its exit coefficient, and the entry of laminar flow.

    That costs 1.25 to 1.33 above the developed friction (Shah and London 1978, from memory).
    """
    way = air_way(**WAY, fuel=4e-5)
    air = 4e-4
    each = (air + 4e-5) / 7.0
    friction = fluids.one_phase_dP(each, GAS.tube_density, GAS.tube_viscosity, D=8.5e-3, L=0.15)
    velocity = each / (GAS.tube_density * np.pi / 4.0 * 8.5e-3**2)
    drop = pressure_drops(way, GAS, air).tubes
    low, high = (
        friction + fluids.dP_from_K(entry + fluids.exit_normal(), GAS.tube_density, velocity)
        for entry in (1.25, 1.33)
    )
    assert low < drop < high
    reynolds = fluids.Reynolds(velocity, 8.5e-3, GAS.tube_density, GAS.tube_viscosity)
    assert reynolds_number(way, GAS, air) >= reynolds * (1.0 - 1e-12)


def test_passage_is_the_narrow_limit_of_an_annulus():
    """f Re of a ring-shaped gap (exact; Bird, Stewart and Lightfoot 2002, 2.4) tends to 96."""
    k = 0.999
    ring = 64.0 * (1.0 - k) ** 2 / (1.0 + k * k + (1.0 - k * k) / np.log(k))
    way = air_way(**{**WAY, "bypass_area": 0.0}, fuel=0.0)
    air = 4e-4
    velocity = air / (GAS.passage_density * 5e-3 * 45e-3)
    reynolds = fluids.Reynolds(velocity, 10e-3, GAS.passage_density, GAS.passage_viscosity)
    expected = ring / reynolds * 30e-3 / 10e-3 * 0.5 * GAS.passage_density * velocity**2
    assert pressure_drops(way, GAS, air).passage == pytest.approx(expected, rel=1e-5)


def test_gap_passes_two_streams_under_one_drop():
    """Each stream through its own part of the slot, the parts making up the whole."""
    way = air_way(**WAY, fuel=4e-5)
    air = 4e-4
    drop = pressure_drops(way, GAS, air).gap
    burnt, bypass = air * 150.0 / 160.0 + 4e-5, air * 10.0 / 160.0
    area = burnt / (0.65 * np.sqrt(2.0 * GAS.gap_density * drop))
    area += bypass / (0.65 * np.sqrt(2.0 * 1.2041 * drop))
    assert area == pytest.approx(5e-3 * 45e-3, rel=1e-12)
