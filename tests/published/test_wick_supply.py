"""What a wick carries and how long it burns on, against solutions worked out apart from it."""

import CoolProp.CoolProp as CoolProp
import numpy as np
import pytest
from numpy.polynomial.legendre import leggauss
from scipy.integrate import solve_ivp

from models.fuel import surface_tension, viscosity
from models.wick_supply import (
    burning_on,
    capillary_pressure,
    hole_hold,
    permeability,
    slot_hold,
    wick_capacity,
    wick_supply,
)

G = 9.80665


def axial_permeability(packing_fraction, terms=12):
    """Permeability, in fibre radii squared, of a square array to slow flow along its fibres.

    Poisson's equation in one eighth of a cell: lap w = -1, w = 0 on the fibre r = 1, no slope on
    the cell's side x = a; w = (1 - r^2)/4 + (2 a^2/pi) ln r + sum A_k (r^4k - r^-4k) cos 4k f, the
    logarithm by the balance of forces, A_k by least squares at points of the side (Sparrow and
    Loeffler 1959 have solved it so).
    """
    a = np.sqrt(np.pi / (4.0 * packing_fraction))
    k = 4 * np.arange(1, terms + 1)
    log_share = 2.0 * a * a / np.pi
    y = a * np.sin(np.linspace(0.0, 0.5 * np.pi, 200))
    r, f = np.hypot(a, y), np.arctan2(y, a)
    corner = a * np.sqrt(2.0)
    high, low = (r[:, None] / corner) ** k, (1.0 / (r[:, None] * corner)) ** k
    # d/dx = cos f d/dr - sin f/r d/df, each term scaled by its size at the corner.
    angle = k * f[:, None]
    by_r = k / r[:, None] * (high + low) * np.cos(angle)
    by_f = -k * (high - low) * np.sin(angle)
    slope = np.cos(f)[:, None] * by_r - (np.sin(f) / r)[:, None] * by_f
    known = np.cos(f) * (-0.5 * r + log_share / r)
    shares, *_ = np.linalg.lstsq(slope, -known, rcond=None)
    assert np.abs(slope @ shares + known).max() < 1e-6

    nodes, weights = leggauss(60)
    f = 0.125 * np.pi * (nodes + 1.0)
    edge = a / np.cos(f)
    r = 1.0 + 0.5 * np.outer(edge - 1.0, nodes + 1.0)
    w = 0.25 * (1.0 - r * r) + log_share * np.log(r)
    for number, share in zip(k, shares, strict=True):
        w += (
            share
            * ((r / corner) ** number - (1.0 / (r * corner)) ** number)
            * np.cos(number * f[:, None])
        )
    inner = 0.5 * (edge - 1.0) * ((w * r) @ weights)
    return 8.0 * 0.125 * np.pi * (inner @ weights) / (4.0 * a * a)


def test_the_solution_in_a_square_array_meets_a_round_cell():
    # Few fibres: the cell is as good as round, and Happel's free-surface cell of 1959 gives
    # (-ln V - 3/2 + 2 V - V^2/2)/(4 V); the square's own constant is 1.4763 (from memory).
    for fraction in (0.001, 0.01):
        square = axial_permeability(fraction)
        cell = (-np.log(fraction) - 1.4763 + 2.0 * fraction - 0.5 * fraction**2) / (4.0 * fraction)
        assert square == pytest.approx(cell, rel=1e-4)


@pytest.mark.parametrize(("fraction", "ratio"), [(0.7, 0.8), (0.5, 1.6), (0.3, 2.3), (0.1, 4.0)])
def test_permeability_parts_from_the_exact_by_what_the_docstring_says(fraction, ratio):
    formula = permeability(1e6, fraction)  # a fibre radius of 1 m
    assert formula / axial_permeability(fraction) == pytest.approx(ratio, abs=0.05)


def test_suction_by_the_energy_of_wetting():
    # A front that moves by dx wets 2 V/R dx of fibre a unit of area: work sigma cos(theta) an
    # area, against a pressure on the (1 - V) dx that is filled. Counted fibre by fibre here.
    radius, fraction, sigma = 4.5e-6, 0.3, (24.05 - 0.0832 * 60.0 + 8.0 * 0.06 + 0.036) * 1e-3
    cell = np.pi * radius**2 / fraction
    work = sigma * 0.95 * 2.0 * np.pi * radius
    assert capillary_pressure(4.5, 0.3, 0.95, 60.0, 0.06) == pytest.approx(
        work / (cell - np.pi * radius**2), rel=1e-12
    )


@pytest.mark.parametrize("celsius", [5.0, 20.0, 40.0])
def test_bubble_point_with_the_properties_of_coolprop(celsius):
    # A bubble leaves a hole of diameter d against 4 sigma/d (Young and Laplace); pure ethanol by
    # CoolProp, whose surface tension is within 2 % of Jasper's here.
    sigma = CoolProp.PropsSI("I", "T", celsius + 273.15, "Q", 0, "Ethanol")
    rho = CoolProp.PropsSI("D", "T", celsius + 273.15, "Q", 0, "Ethanol")
    head = 4.0 * sigma / (rho * G * 1.3e-3) * 1e3
    assert hole_hold(1.3, celsius, 0.0) == pytest.approx(head, rel=0.02)
    assert slot_hold(1.3, celsius, 0.0) == pytest.approx(0.5 * head, rel=0.02)


def test_wick_draws_itself_full_as_washburn_says():
    """A dry wick of no lift fills as sqrt(2 K p_c t/(mu (1 - V))) (Washburn 1921, Darcy's form).

    The front's speed is the capacity for the length filled so far over the open area.
    """
    bore, fraction = 7.0, 0.3
    open_area = 0.25 * np.pi * bore**2 * (1.0 - fraction)  # mm2

    def speed(_, front):  # mm/min; 1 ml is 1000 mm3
        return wick_capacity(bore, front, 0.0, 7.5, fraction, 0.5) * 1e3 / open_area

    path = solve_ivp(speed, (0.0, 0.05), [0.01], method="LSODA", rtol=1e-8, atol=1e-10)
    sigma, mu = surface_tension(60.0, 0.06) * 1e-3, viscosity(60.0, 0.06) * 1e-3
    K = 0.5 * 8.0 * 7.5e-6**2 * 0.7**3 / (57.0 * 0.3**2)
    suction = 2.0 * sigma * 0.95 * 0.3 / (7.5e-6 * 0.7)
    washburn = np.sqrt(2.0 * K * suction * 0.05 * 60.0 / (mu * 0.7)) * 1e3
    assert path.y[0, -1] == pytest.approx(washburn, rel=1e-4)


SHUT = [  # ml/mm, level, stop, pipe ml, wicks ml, ml/min, share, breather ml -> minutes
    ((0.4, 12.0, 8.5, 0.9, 2.2, 3.0, 0.3, 0.0), 1.650),
    ((0.4, 12.0, 8.5, 0.9, 2.2, 1.6, 0.3, 0.59), 3.462),
    ((0.8, 12.0, 9.6, 0.9, 3.0, 2.0, 0.3, 0.59), 3.511),
    ((1.2, 12.2, 9.6, 0.9, 3.0, 1.5, 0.2, 0.3), 6.099),
    ((0.4, 11.5, 9.6, 0.5, 1.5, 3.0, 0.5, 0.0), 0.767),
]


@pytest.mark.parametrize(("stored", "printed"), SHUT)
def test_minutes_after_shutting_the_valve_run_in_time(stored, printed):
    area, level, stop, pipe, held, burn, share, breather = stored
    free = area * (level - stop) + pipe + breather

    def flow(_, volumes):
        if volumes[0] > 0.0:
            return [-burn, 0.0]
        return [0.0, -burn * volumes[1] / held]

    def goes_out(_, volumes):
        return volumes[1] - share * held

    goes_out.terminal = True
    path = solve_ivp(
        flow, (0.0, 30.0), [free, held], events=goes_out, max_step=0.01, rtol=1e-8, atol=1e-10
    )
    found = burning_on(*stored)
    # The sump runs out within one step of the integration.
    assert found == pytest.approx(path.t[-1], abs=0.01)
    assert found == pytest.approx(printed, abs=5.01e-4)


def test_whole_model_keeps_the_same_books():
    """The same minutes as by hand from the stored volumes, and what they say of practice."""
    found = wick_supply(
        wick_count=4, wick_bore=8.0, wick_length=15.6, packing_fraction=0.3, starve_margin_all=2.0,
        level_band=3.0, shut_moment=0.5, sump_free_area=4.0, pipe_bore=3.2, pipe_length=111.9,
        pipe_share=1.0, breather_bore=5.0, tank_head=30.0, burn_rate=1.6, flame_out_share=0.3,
    )  # fmt: skip
    assert found.wick_fuel == pytest.approx(2.2, abs=0.005)
    # 3.5 mm of 0.4 ml/mm, 0.9 ml of pipe, 0.59 ml of breather, as the second case above.
    assert found.minutes_after_shut == pytest.approx(3.462, abs=0.01)
    # Common practice, no source: minutes, not seconds.
    assert found.minutes_after_shut > 1.0
