"""What wicks hold and carry: conservation, signs, limits, shapes."""

import inspect

import hypothesis.extra.numpy as arrays
import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from models.wick_supply import burning_on, wick_capacity, wick_supply

DEFAULTS = {name: one.default for name, one in inspect.signature(wick_supply).parameters.items()}
SPANS = {  # wide but sane burners
    "wick_bore": (4.0, 12.0),
    "wick_length": (8.0, 60.0),
    "wick_protrusion": (0.0, 8.0),
    "packing_fraction": (0.05, 0.6),
    "fibre_radius": (1.0, 30.0),
    "packing_factor": (0.1, 3.0),
    "fibre_wetting": (0.5, 1.0),
    "wick_fuel_temperature": (0.0, 60.0),
    "fuel_water": (0.0, 0.15),
    "wick_lip_height": (4.0, 12.0),
    "pipe_bore": (2.0, 5.0),
    "wick_starve_margin": (-3.0, 5.0),
    "starve_margin_all": (-3.0, 5.0),
    "level_band": (0.0, 5.0),
    "shut_moment": (0.0, 1.0),
    "sump_free_area": (0.5, 20.0),
    "pipe_length": (0.0, 300.0),
    "pipe_share": (0.0, 1.0),
    "breather_bore": (1.0, 8.0),
    "tank_head": (0.0, 80.0),
    "burn_rate": (0.5, 10.0),
    "flame_out_share": (0.1, 1.0),
}
SHARES = arrays.arrays(float, (len(SPANS), 50), elements=st.floats(0.0, 1.0))


def burners(shares):
    return {
        name: low + share * (high - low)
        for (name, (low, high)), share in zip(SPANS.items(), shares, strict=True)
    }


def test_every_argument_is_covered_here():
    assert set(SPANS) | {"wick_count"} == set(DEFAULTS)


# Conservation: every millilitre is burnt, or left in the wicks.


@settings(max_examples=20)
@given(shares=SHARES, count=st.integers(1, 6))
def test_what_is_stored_is_burnt_or_left(shares, count):
    """The burn over the minutes: at the full rate, then falling as what the wicks hold."""
    burner = burners(shares) | {"wick_count": count}
    found = wick_supply(**burner)
    rate, share, held = burner["burn_rate"], burner["flame_out_share"], found.wick_fuel
    dying = held / rate * np.log(1.0 / share)
    at_full = (found.minutes_after_shut - dying) * rate
    burnt_dying = held * (1.0 - np.exp(-rate / held * dying))
    level = np.maximum(
        burner["starve_margin_all"] + burner["shut_moment"] * burner["level_band"], 0.0
    )
    circle = np.pi / 4.0 * 1e-3
    stored = (
        burner["sump_free_area"] * level / 10.0
        + circle * burner["pipe_bore"] ** 2 * burner["pipe_length"] * burner["pipe_share"]
        + circle * burner["breather_bore"] ** 2 * burner["tank_head"]
        + held
    )
    np.testing.assert_allclose(at_full + burnt_dying + held * share, stored, rtol=1e-9, atol=1e-9)


@settings(max_examples=10)
@given(shares=SHARES)
def test_wicks_share_alike(shares):
    burner = burners(shares)
    one, four = (wick_supply(**burner, wick_count=n) for n in (1, 4))
    np.testing.assert_allclose(four.wick_supply_ratio, 4.0 * one.wick_supply_ratio, rtol=1e-12)
    np.testing.assert_allclose(four.wick_fuel, 4.0 * one.wick_fuel, rtol=1e-12)
    np.testing.assert_array_equal(four.wick_lift, one.wick_lift)


# Signs.


@pytest.mark.parametrize(
    ("argument", "supply", "minutes"),
    [
        ("wick_bore", 1, 1),
        ("wick_length", -1, 1),
        ("wick_protrusion", -1, 0),
        ("packing_fraction", -1, -1),  # tight wicks starve, and hold less
        ("packing_factor", 1, 0),
        ("fibre_wetting", 1, 0),
        ("fuel_water", -1, 0),
        ("wick_lip_height", -1, 0),
        ("wick_starve_margin", 1, 0),
        ("level_band", 0, 1),
        ("shut_moment", 0, 1),
        ("sump_free_area", 0, 1),
        ("pipe_length", 0, 1),
        ("pipe_share", 0, 1),
        ("breather_bore", 0, 1),
        ("tank_head", 0, 1),
        ("burn_rate", -1, -1),
        ("flame_out_share", 0, -1),
    ],
)
def test_sign(argument, supply, minutes):
    found = wick_supply(**{argument: np.linspace(*SPANS[argument], 41)})
    for result, sign in ((found.wick_supply_ratio, supply), (found.minutes_after_shut, minutes)):
        change = np.diff(np.broadcast_to(result, 41))
        assert (sign * change > 0.0).all() if sign else np.abs(change).max() < 1e-12


def test_a_level_below_the_stop_leaves_pipe_breather_and_wicks():
    margins = np.array([-3.0, -1.5, -0.5, 0.5])
    found = wick_supply(starve_margin_all=margins, level_band=1.0, shut_moment=0.5)
    minutes = found.minutes_after_shut
    assert minutes[0] == minutes[1] == minutes[2] < minutes[3]


def test_a_wick_gives_nothing_above_its_rise():
    # Loose wire wool rises by 27 mm of hot spirit and no more.
    flow = wick_capacity(
        wick_lift=np.array([0.0, 26.0, 28.0, 200.0]), fibre_radius=20.0, packing_fraction=0.1
    )
    assert flow[0] > flow[1] > 0.0
    assert flow[2] == flow[3] == 0.0


def test_tight_packing_starves_a_wick_and_loose_does_not():
    # Common practice, no source: a wick packed tight starves its flame.
    found = wick_supply(
        wick_count=4, wick_bore=5.0, packing_fraction=np.array([0.3, 0.65]), packing_factor=0.3
    )
    assert found.wick_supply_ratio[0] > 1.0 > found.wick_supply_ratio[1]


def test_flame_that_dies_at_once_takes_nothing_from_the_wicks():
    assert burning_on(0.4, 10.0, 9.0, 0.2, 2.0, 3.0, 1.0) == pytest.approx(0.6 / 3.0, rel=1e-12)


# Limits and shapes.


@pytest.mark.parametrize(
    ("argument", "values"),
    [
        ("wick_count", [0.0, 7.0, 1.5]),
        ("wick_bore", [0.0, -1.0, np.inf]),
        ("wick_length", [0.0, -1.0, np.inf]),
        ("wick_protrusion", [-0.1, np.inf]),
        ("packing_fraction", [0.0, 0.71, 1.0]),
        ("fibre_radius", [0.0, -1.0]),
        ("packing_factor", [0.0, -1.0, np.inf]),
        ("fibre_wetting", [-0.1, 1.1]),
        ("wick_fuel_temperature", [-0.1, 60.1, 78.0]),
        ("fuel_water", [-0.01, 0.16]),
        ("wick_lip_height", [0.0, 1.6, np.inf]),  # the crown is 1.6 mm above the axis
        ("pipe_bore", [0.0, -1.0, 13.2]),
        ("wick_starve_margin", [-np.inf]),
        ("starve_margin_all", [np.inf, -np.inf]),
        ("level_band", [-0.1, np.inf]),
        ("shut_moment", [-0.1, 1.1]),
        ("sump_free_area", [0.0, -1.0, np.inf]),
        ("pipe_length", [-0.1, np.inf]),
        ("pipe_share", [-0.1, 1.1]),
        ("breather_bore", [0.0, -1.0, np.inf]),
        ("tank_head", [-0.1, np.inf]),
        ("burn_rate", [0.0, -0.1]),
        ("flame_out_share", [0.0, -0.1, 1.1]),
    ],
)
def test_no_answer_outside_and_none_spoilt_beside(argument, values):
    bad = [*values, np.nan]
    mixed = wick_supply(**{argument: np.array([DEFAULTS[argument], *bad, DEFAULTS[argument]])})
    for name, result, nominal in zip(mixed._fields, mixed, wick_supply(), strict=True):
        assert result[0] == result[-1] == nominal, name
        assert np.isnan(result[1:-1]).all(), name
    for value in bad:  # a held number must not raise either
        assert np.isnan(wick_supply(**{argument: value})).all()


@settings(max_examples=20)
@given(samples=arrays.arrays(float, (len(DEFAULTS), 12), elements=st.floats(width=64)))
def test_any_number_gives_a_number_or_nan(samples):
    found = wick_supply(**dict(zip(DEFAULTS, samples, strict=True)))
    missing = np.isnan(found)
    assert (missing == missing[0]).all()
    assert np.isfinite(np.array(found)[~missing]).all()


@settings(max_examples=5)
@given(shares=SHARES)
def test_arrays_agree_with_numbers(shares):
    burner = burners(shares)
    together = wick_supply(**burner)
    alone = wick_supply(**{name: float(values[7]) for name, values in burner.items()})
    for many, one in zip(together, alone, strict=True):
        assert isinstance(one, float)
        assert many[7] == pytest.approx(one, rel=1e-12, abs=1e-12)


def test_broadcasting():
    found = wick_supply(wick_bore=np.linspace(5.0, 8.0, 4)[:, None], tank_head=np.arange(3.0))
    assert {np.shape(result) for result in found} == {(4, 3)}
