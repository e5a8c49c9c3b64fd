"""Checks of models.air_lock against another correlation and a library."""

import fluids
import numpy as np
import pytest

from models import fuel
from models.air_lock import BOND_NUMBER_RISING, rise_speed
from models.pipe_run import stepped_pipe

GRAVITY = 9.80665


def viana(bore, temperature, water):
    """Rise of a long bubble, mm/s: Viana and others 2003 (J. Fluid Mech. 494, 379), from memory.

    Fr = L(R; A, B, C, G), each of A, B, C again L(Eo; ...), L(x; a, b, c, g) = a/(1 + (x/b)^c)^g.
    """

    def logistic(x, a, b, c, g):
        return a / (1.0 + (x / b) ** c) ** g

    rho, d = fuel.density(temperature, water), 1e-3 * bore
    eotvos = rho * GRAVITY * d * d / (1e-3 * fuel.surface_tension(temperature, water))
    buoyancy = np.sqrt(d**3 * GRAVITY) * rho / (1e-3 * fuel.viscosity(temperature, water))
    a = logistic(eotvos, 0.34, 14.793, -3.06, 0.58)
    b = logistic(eotvos, 31.08, 29.868, -1.96, -0.49)
    c = logistic(eotvos, -1.45, 24.867, -9.93, -0.094)
    return 1e3 * logistic(buoyancy, a, b, c, -1.0295 / c) * np.sqrt(GRAVITY * d)


@pytest.mark.parametrize("temperature", [5.0, 20.0, 40.0, 60.0])
def test_another_correlation_is_within_the_stated_doubt_of_ours(temperature):
    bore = np.linspace(3.6, 6.0, 25)
    factor = viana(bore, temperature, 0.06) / rise_speed(bore, temperature, 0.06)
    assert ((factor > 0.8) & (factor < 1.2)).all()


def test_rise_begins_where_bretherton_says():
    # Wallis's form vanishes at Eo = 3.37, Bretherton's (1961) tube holds its bubble at 4 x 0.842.
    assert abs(4.0 * BOND_NUMBER_RISING - 3.37) < 0.005


def test_filling_speed_is_hagen_poiseuilles_by_fluids():
    # fluids 1.3.1, friction factor of laminar flow: dp over the whole equivalent length.
    pipe = stepped_pipe(pipe_bore=4.0, breather_height=12.5, bend_equivalent_length=0.0)
    speed = 1e-3 * pipe.air_lock_ratio * rise_speed(4.0)
    rho, mu = fuel.density(20.0, 0.06), 1e-3 * fuel.viscosity(20.0, 0.06)
    length = 1e-3 * (pipe.pipe_length + 3.0 * np.pi / 16.0 * 4.0)  # ends by Sampson 1891
    flow = rho * speed * np.pi / 4.0 * 4e-3**2
    dp = fluids.one_phase_dP(m=flow, rho=rho, mu=mu, D=4e-3, L=length)
    assert dp == pytest.approx(rho * GRAVITY * 1e-3 * (12.5 - 8.0 - 2.0), rel=1e-9)
