"""Checks of models.pipe_run against libraries and solutions worked out apart from it."""

import fluids
import numpy as np
import pytest
from fluids.fittings import Hooper2K
from fluids.friction import friction_laminar, helical_laminar_fd_White

from models import fuel
from models.pipe_flow import (
    END_EQUIVALENT_LENGTH,
    curvature_resistance,
    laminar_pressure_drop,
    oval_conductance,
)
from models.pipe_run import bent_pipe, stepped_pipe

GRAVITY = 9.80665


def one_phase_head(length, bore, flow, temperature, water):
    """Loss of head in mm by fluids.one_phase_dP, from the shop units of the models."""
    rho = fuel.density(temperature, water)
    mass_flow = rho * flow * 1e-6 / 60.0
    mu = fuel.viscosity(temperature, water) * 1e-3
    dp = fluids.one_phase_dP(m=mass_flow, rho=rho, mu=mu, D=bore * 1e-3, L=length * 1e-3)
    return dp / (rho * GRAVITY) * 1e3


@pytest.mark.parametrize("pipe_bore", [1.5, 3.2, 4.0])
@pytest.mark.parametrize(
    ("fuel_temperature", "fuel_water"), [(5.0, 0.12), (20.0, 0.0), (45.0, 0.06)]
)
def test_head_loss_agrees_with_fluids(pipe_bore, fuel_temperature, fuel_water):
    # fluids 1.3.1, one_phase_dP; the ends as pipe of 3 pi r/8 (Sampson 1891).
    run = {"pipe_bore": pipe_bore, "burn_rate": 2.4, "bend_equivalent_length": 0.0}
    spirit = {"fuel_temperature": fuel_temperature, "fuel_water": fuel_water}
    for pipe in (stepped_pipe(**run, **spirit), bent_pipe(**run, **spirit, pipe_ovality=0.0)):
        length = pipe.pipe_length + 3.0 * np.pi / 16.0 * pipe_bore
        expected = one_phase_head(length, pipe_bore, 2.4, fuel_temperature, fuel_water)
        assert pipe.pipe_head_loss == pytest.approx(expected, rel=1e-12)


def test_elbow_of_twelve_and_a_half_bores_is_the_laminar_term_of_the_2_k_method():
    # Hooper 1981 by fluids 1.3.1: K = K1/Re with K1 = 800, without the turbulent term.
    none, many = (stepped_pipe(bend_equivalent_length=n) for n in (0.0, 12.5))
    rho, mu = fuel.density(20.0, 0.06), fuel.viscosity(20.0, 0.06) * 1e-3
    speed = 3e-6 / 60.0 / (np.pi / 4.0 * 3.2e-3**2)
    k = Hooper2K(Di=3.2 / 25.4, Re=rho * speed * 3.2e-3 / mu, K1=800.0, Kinfty=0.0)
    expected = 4.0 * k * speed**2 / (2.0 * GRAVITY) * 1e3
    assert many.pipe_head_loss - none.pipe_head_loss == pytest.approx(expected, rel=1e-12)


def test_two_ends_resist_like_sampsons_aperture():
    # Sampson 1891: dp = 3 mu Q/r^3 through an aperture in a thin wall, creeping flow.
    mu, flow, radius = 1.2e-3, 5e-8, 1.6e-3
    ends = laminar_pressure_drop(END_EQUIVALENT_LENGTH * 3.2, 3.2, 3.0, 1.2)
    assert ends == pytest.approx(3.0 * mu * flow / radius**3, rel=1e-12)


@pytest.mark.parametrize("ovality", [0.0, 0.06, 0.3, 1.0])
def test_oval_conductance_agrees_with_the_velocity_field_summed_over_the_ellipse(ovality):
    # u = c (1 - x^2/a^2 - y^2/b^2) is still at the wall, and obeys the equation of motion
    # (Laplacian of u = -dp/(mu L) = -1) if 2 c (1/a^2 + 1/b^2) = 1. Summed by quadrature,
    # with the wall's length measured along it, this uses none of the closed forms.
    a, b = 1.0 + ovality / 2.0, 1.0 - ovality / 2.0
    c = 0.5 / (a**-2 + b**-2)
    nodes, weights = np.polynomial.legendre.leggauss(20)
    s, ds = 0.5 * (nodes + 1.0), 0.5 * weights
    angle = 2.0 * np.pi * (np.arange(400) + 0.5) / 400.0
    x, y = a * np.outer(s, np.cos(angle)), b * np.outer(s, np.sin(angle))
    area = a * b * np.outer(s * ds, np.full(400, 2.0 * np.pi / 400.0))
    flow = np.sum(c * (1.0 - (x / a) ** 2 - (y / b) ** 2) * area)
    wall = np.sum(np.hypot(a * np.sin(angle), b * np.cos(angle))) * 2.0 * np.pi / 400.0
    round_radius = wall / (2.0 * np.pi)
    expected = flow / (np.pi * round_radius**4 / 8.0)
    assert oval_conductance(ovality) == pytest.approx(expected, rel=1e-12)


def test_curvature_resistance_agrees_with_fluids_on_both_sides_of_its_start():
    # White 1929 by fluids 1.3.1, which gives the straight pipe's value below De = 11.6.
    reynolds = np.array([1.0, 20.0, 36.0, 37.0, 60.0, 300.0, 1900.0])
    bore, coil = 0.1, 1.0
    expected = [helical_laminar_fd_White(Re, bore, coil) / friction_laminar(Re) for Re in reynolds]
    found = curvature_resistance(reynolds * np.sqrt(bore / coil))
    assert found == pytest.approx(np.array(expected), rel=1e-12)
    assert np.array_equal(found[:3], np.ones(3))


def test_bend_in_a_fast_feed_resists_as_white_says():
    # Through the model: the same pipe at Re 300, less the straight law, leaves the arcs.
    burn_rate, bore, bend_radius = 80.0, 3.2, 10.0
    run = {"burn_rate": burn_rate, "bend_equivalent_length": 0.0, "pipe_ovality": 0.0}
    pipe = bent_pipe(**run)
    rho, mu = fuel.density(20.0, 0.06), fuel.viscosity(20.0, 0.06) * 1e-3
    speed = burn_rate * 1e-6 / 60.0 / (np.pi / 4.0 * (bore * 1e-3) ** 2)
    reynolds = rho * speed * bore * 1e-3 / mu
    factor = helical_laminar_fd_White(reynolds, bore, 2.0 * bend_radius) * reynolds / 64.0
    arcs = bend_radius * np.pi  # four bends of 45 deg
    length = pipe.pipe_length + arcs * (factor - 1.0) + 3.0 * np.pi / 16.0 * bore
    expected = one_phase_head(length, bore, burn_rate, 20.0, 0.06)
    assert factor > 1.2
    assert pipe.pipe_head_loss == pytest.approx(expected, rel=1e-12)
