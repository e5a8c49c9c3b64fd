"""Checks of models.fuel_heating against a boundary value problem and against CoolProp."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.integrate import solve_bvp

from models.fuel_heating import boiling_point, column_lift, hot_pipe, root_share

PIPES = [
    # kA W m/K, mc W/K, hP W/(m K), G W, L_p m, L_f m, sump degC; air at 20 degC
    (0.00176, 0.1033, 0.1257, 4.0, 0.114, 0.045, 20.0),
    (0.00176, 0.0516, 0.1257, 4.0, 0.114, 0.045, 20.0),
    (0.00176, 0.1033, 0.1257, 8.0, 0.06, 0.045, 20.0),
    (0.00052, 0.03, 0.1257, 2.0, 0.08, 0.03, 30.0),
    (0.003, 0.06, 0.2, 3.0, 0.05, 0.04, 25.0),
]


@pytest.mark.parametrize("pipe", PIPES)
def test_hot_pipe_is_the_solution_of_its_boundary_value_problem(pipe):
    # scipy.integrate.solve_bvp on both lengths at once, each scaled to 0..1: temperature and
    # heat conducted back pass the wall unbroken, and no heat is conducted beyond the end.
    kA, mc, hP, G, L_p, L_f, sump = pipe

    def slopes(_, y):
        cold, back, _, behind = y
        return np.array(
            [
                L_p * back / kA,
                L_p * (mc * back / kA + hP * (cold - 20.0)),
                L_f * behind / kA,
                L_f * (mc * behind / kA - G / L_f),
            ]
        )

    def ends(at_0, at_1):
        return np.array([at_0[0] - sump, at_1[0] - at_0[2], at_1[1] - at_0[3], at_1[3]])

    mesh = np.linspace(0.0, 1.0, 101)
    solved = solve_bvp(
        slopes,
        ends,
        mesh,
        np.full((4, 101), sump) * [[1], [0], [1], [0]],
        tol=1e-8,
        max_nodes=50_000,
    )
    assert solved.success
    found = hot_pipe(*pipe)
    assert found.end == pytest.approx(solved.y[2, -1], abs=1e-4)
    assert found.to_sump == pytest.approx(solved.y[1, 0], abs=1e-6)
    lost = hP * L_p * np.trapezoid(solved.sol(np.linspace(0.0, 1.0, 20_001))[0] - 20.0, dx=5e-5)
    assert found.to_air == pytest.approx(lost, abs=1e-5)


def test_root_share_is_the_solution_of_its_boundary_value_problem():
    # kA T'' = mc T' up the tube from its root, the fuel entering the root at the pipe's 50 degC:
    # kA T' = mc (T - 50) there; the lip is held at 78 degC.
    kA, mc, height = 0.0011, 0.0258, 0.0066
    mesh = np.linspace(0.0, height, 51)
    solved = solve_bvp(
        lambda _, y: np.array([y[1] / kA, mc * y[1] / kA]),
        lambda root, lip: np.array([root[1] - mc * (root[0] - 50.0), lip[0] - 78.0]),
        mesh,
        np.vstack([np.full(51, 60.0), np.full(51, 0.1)]),
        tol=1e-8,
    )
    assert solved.success
    assert 50.0 + 28.0 * root_share(kA, mc, height) == pytest.approx(solved.y[0, 0], abs=1e-5)


def test_boiling_point_is_that_of_coolprop():
    pressure = np.linspace(0.7, 1.06, 13)
    expected = np.array([PropsSI("T", "P", 1e5 * p, "Q", 0, "Ethanol") for p in pressure]) - 273.15
    assert boiling_point(pressure) == pytest.approx(expected, abs=1e-3)


def test_column_lift_is_that_of_coolprop():
    degrees = np.linspace(0.0, 90.0, 19)
    rho = np.array([PropsSI("D", "T", t + 273.15, "Q", 0, "Ethanol") for t in degrees])
    cold = PropsSI("D", "T", 283.15, "Q", 0, "Ethanol")
    # 0.004 % in either density is 0.0008 mm of 10 mm.
    assert column_lift(10.0, 10.0, degrees) == pytest.approx(10.0 * (cold / rho - 1.0), abs=8e-4)
