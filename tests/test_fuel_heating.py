"""Limits, signs and conservation of models.fuel_heating."""

import inspect

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.fuel_heating import boiling_point, column_lift, fuel_heating, hot_pipe, root_share

DEFAULTS = {name: p.default for name, p in inspect.signature(fuel_heating).parameters.items()}
FOUR = {"wick_count": 4.0}


@given(
    st.floats(1e-4, 5e-3),
    st.floats(5e-3, 0.3),
    st.floats(0.0, 0.5),
    st.floats(-2.0, 12.0),
    st.floats(0.01, 0.3),
    st.floats(0.005, 0.08),
    st.floats(0.0, 60.0),
    st.floats(-10.0, 40.0),
)
def test_what_enters_the_pipe_leaves_it(kA, mc, hP, G, L_p, L_f, sump, ambient):
    found = hot_pipe(kA, mc, hP, G, L_p, L_f, sump, ambient)
    carried = mc * (found.end - sump)
    # Rounding is that of the heat the stream carries, from 0 degC on.
    size = abs(G) + mc * (abs(found.end) + abs(sump) + abs(ambient))
    assert abs(carried + found.to_sump + found.to_air - G) <= 1e-9 * size


def test_pipe_limits():
    # No losses to the air: all the heat but what is conducted back warms the fuel.
    dry = hot_pipe(1e-6, 0.1, 0.0, 4.0, 0.1, 0.04, 20.0)
    assert dry.end == pytest.approx(20.0 + 4.0 / 0.1, rel=1e-3)
    assert dry.to_sump == pytest.approx(0.0, abs=1e-12)
    assert dry.to_air == 0.0
    # No heat, and all at one temperature: nothing moves.
    still = hot_pipe(1e-3, 0.1, 0.2, 0.0, 0.1, 0.04, 20.0, 20.0)
    assert still.end == pytest.approx(20.0, abs=1e-12)
    # A long pipe without heat comes to the temperature of the air.
    long = hot_pipe(1e-3, 0.01, 0.5, 0.0, 2.0, 0.001, 50.0, 10.0)
    assert long.end == pytest.approx(10.0, abs=1e-3)


def test_slower_fuel_gets_hotter_and_sends_more_back():
    found = fuel_heating(**FOUR, burn_rate=np.array([1.0, 2.0, 3.0, 5.0]))
    assert (np.diff(found.burner_temperature) < 0.0).all()
    assert (np.diff(found.heat_to_sump) < 0.0).all()
    assert (found.heat_to_sump < 1.0).all()  # while it burns at most about 1 W reaches the sump
    assert np.ptp(found.burner_heat) == 0.0


@pytest.mark.parametrize(
    ("name", "values", "sign"),
    [
        ("burner_shielding", [0.0, 0.4, 0.9], 1),
        ("deflector_temperature", [500.0, 600.0, 700.0], -1),
        ("flame_contact_heat", [0.0, 2.0, 6.0], -1),
        ("burner_heat_factor", [0.6, 1.0, 1.6], -1),
        ("burner_view_factor", [0.2, 0.35, 0.5], -1),
        ("lip_temperature", [78.0, 90.0, 100.0], -1),
        ("fuel_temperature", [5.0, 20.0, 40.0], -1),
        ("fuel_methanol", [0.0, 0.05, 0.1], -1),
        ("ambient_pressure", [0.85, 0.95, 1.03], 1),
        ("wick_count", [1.0, 2.0, 4.0, 6.0], -1),
    ],
)
def test_what_brings_the_fuel_nearer_to_boiling(name, values, sign):
    margin = fuel_heating(**(FOUR | {name: np.array(values)})).vapour_margin
    assert (sign * np.diff(margin) > 0.0).all()


def test_shield_and_tube_of_stainless_steel_together_keep_the_fuel_from_boiling():
    """Either alone leaves the margin within the doubt of some 15 K; both do not."""
    as_built = fuel_heating(**FOUR).vapour_margin
    shield = fuel_heating(**FOUR, burner_shielding=0.8).vapour_margin
    tube = fuel_heating(**FOUR, wick_tube_conductivity=15.7).vapour_margin
    both = fuel_heating(**FOUR, burner_shielding=0.8, wick_tube_conductivity=15.7).vapour_margin
    assert abs(as_built) < 5.0
    assert as_built < tube < 15.0
    assert as_built < shield < 15.0
    assert both > 25.0


def test_root_lies_between_pipe_and_lip_and_no_boiling_pipe_is_called_sound():
    for heat in (0.0, 2.0, 8.0):
        found = fuel_heating(**FOUR, flame_contact_heat=heat, deflector_temperature=60.0)
        low, high = sorted((float(found.burner_temperature), 78.0))
        assert low <= found.root_temperature <= high
    hot = fuel_heating(**FOUR, flame_contact_heat=6.0, lip_temperature=72.0)
    assert hot.burner_temperature > 100.0
    assert hot.vapour_margin == pytest.approx(boiling_point() - hot.burner_temperature, abs=1e-12)


def test_metal_of_the_tube_moves_the_root():
    # 8 mm tube, wall 0.4 mm, 6.6 mm to the lip, a quarter of 3.1 ml/min: copper .95, brass .86,
    # stainless .32 of the difference (section 3.04 pi mm2; by hand).
    section = np.pi * 7.6e-3 * 0.4e-3
    shares = [root_share(k * section, 0.0258, 6.6e-3) for k in (347.0, 115.0, 15.7)]
    assert shares == pytest.approx([0.95, 0.86, 0.32], abs=0.005)


def test_lift_is_of_the_heights_as_drawn_and_never_of_vapour():
    found = fuel_heating(**FOUR, breather_height=12.0, hot_column_depth=0.0)  # burner at 8 mm
    root = found.root_temperature
    assert found.hot_column_lift == pytest.approx(column_lift(4.0, 20.0, root), rel=1e-12)
    low = fuel_heating(**FOUR, breather_height=7.0, hot_column_depth=np.array([0.0, -3.0]))
    assert np.array_equal(low.hot_column_lift, [0.0, 0.0])
    boiling = fuel_heating(
        **FOUR, breather_height=12.0, hot_column_depth=0.0, flame_contact_heat=np.array([5.0, 9.0])
    )
    assert boiling.hot_column_lift == pytest.approx(column_lift(4.0, 20.0, boiling_point()))
    deeper = fuel_heating(**FOUR, hot_column_depth=np.array([0.0, 4.0, 8.0])).hot_column_lift
    assert np.diff(deeper, 2) == pytest.approx(0.0, abs=1e-12)
    assert (np.diff(deeper) > 0.0).all()


def test_equal_columns_do_not_lift():
    assert column_lift(12.0, 35.0, 35.0) == 0.0
    assert column_lift(12.0, 40.0, 20.0) < 0.0


def test_numbers_give_numbers_and_arrays_broadcast():
    assert all(np.ndim(value) == 0 and np.isfinite(value) for value in fuel_heating())
    grid = fuel_heating(burn_rate=np.array([2.0, 3.0])[:, None], pipe_bore=np.linspace(3, 4, 3))
    assert all(value.shape == (2, 3) for value in grid)


@pytest.mark.parametrize(
    ("name", "bad"),
    [
        ("burn_rate", [0.0, -1.0, np.nan]),
        ("fuel_temperature", [-1.0, 61.0, np.nan]),
        ("fuel_water", [-0.1, 0.2, np.nan]),
        ("fuel_methanol", [-0.1, 0.2, np.nan]),
        ("ambient_temperature", [-21.0, 61.0, np.nan]),
        ("ambient_pressure", [0.6, 1.1, np.nan]),
        ("pipe_length", [9.0, -1.0, np.nan]),
        ("wick_count", [1.5, 0.0, 7.0]),
        ("wick_pitch", [0.0, -1.0, np.nan]),
        ("pipe_wall", [0.0, -1.0, np.nan]),
        ("wick_tube_wall", [0.0, -1.0, np.nan]),
        ("deflector_temperature", [-30.0, 1300.0, np.nan]),
        ("burner_shielding", [-0.1, 1.1, np.nan]),
        ("burner_view_factor", [-0.1, 1.1, np.nan]),
        ("lip_temperature", [-1.0, 301.0, np.nan]),
        ("burner_height", [np.nan, np.nan, np.nan]),
    ],
)
def test_argument_outside_its_range_spoils_its_own_sample_alone(name, bad):
    found = fuel_heating(**{name: np.array([*bad, DEFAULTS[name]])})
    for result, values in found._asdict().items():
        assert np.isnan(values[:3]).all(), result
        assert values[3] == pytest.approx(getattr(fuel_heating(), result), rel=1e-12), result
