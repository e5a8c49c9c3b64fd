"""The level at the wicks: an independent balance, conservation, signs, limits, shapes."""

import inspect
import math

import hypothesis.extra.numpy as arrays
import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings
from scipy.optimize import brentq

from models.breather import (
    BOND_NUMBER_HELD,
    BOND_NUMBER_RISING,
    entry_pressure_factor,
    ring_depth,
    side_rise,
)
from models.fuel import density, surface_tension
from models.fuel_level import fuel_level

G, ATMOSPHERE = 9.80665, 101_325.0
DEFAULTS = {name: one.default for name, one in inspect.signature(fuel_level).parameters.items()}
BEFORE = {"cling_factor": 0.0, "scarf_closing": 0.0, "wick_hold": 0.0, "outlet_height": -50.0}
"""What leaves the face in the bore and the crown at the wicks alone."""

SPANS = {  # wide but sane designs
    "breather_height": (5.0, 20.0),
    "breather_bore": (1.0, 8.0),
    "breather_wall": (0.1, 2.0),
    "breather_scarf": (0.0, 60.0),
    "breather_chamfer": (0.0, 1.0),
    "scarf_radius_factor": (1.0, 1.6),
    "scarf_closing": (0.0, 1.0),
    "air_entry_factor": (0.0, 1.2),
    "cling_factor": (0.0, 1.2),
    "receding_angle": (0.0, 60.0),
    "slosh_amplitude": (0.0, 4.0),
    "burner_height": (-5.0, 15.0),
    "outlet_height": (-5.0, 15.0),
    "pipe_bore": (1.0, 5.0),
    "wick_lip_height": (3.0, 12.0),
    "wick_hold": (0.0, 10.0),
    "reach": (-150.0, 150.0),
    "outlet_reach": (-30.0, 30.0),
    "lateral": (-30.0, 30.0),
    "grade": (-4.0, 4.0),
    "acceleration": (-1.0, 1.0),
    "cant": (-10.0, 10.0),
    "fuel_temperature": (0.0, 60.0),
    "fuel_water": (0.0, 0.15),
    "burn_rate": (0.0, 20.0),
    "hot_column_lift": (0.0, 1.5),
    "tank_air_volume": (0.0, 200.0),
    "tank_head": (0.0, 80.0),
    "sump_free_area": (0.5, 20.0),
    "pipe_head_loss": (0.0, 5.0),
}
SHARES = arrays.arrays(float, (len(SPANS), 50), elements=st.floats(0.0, 1.0))


def designs(shares):
    return {
        name: low + share * (high - low)
        for (name, (low, high)), share in zip(SPANS.items(), shares, strict=True)
    }


def velocity_head(design):
    """Velocity head of the fuel in the burner pipe, mm."""
    area = np.pi / 4.0 * (design["pipe_bore"] * 1e-3) ** 2
    speed = design["burn_rate"] * 1e-6 / 60.0 / area
    return speed**2 / (2.0 * G) * 1e3


def test_every_argument_is_covered_here():
    assert set(SPANS) == set(DEFAULTS)


# Sump level by plain hydrostatics, in pascals and metres and with a root finder: textbook
# statics of a closed vessel, nothing of the model's own algebra.


def test_lowest_level_by_a_balance_of_pressures():
    # No flow: the tank's air is below the atmosphere by the column between both surfaces.
    # Air breaks in when it pushes on the mouth's meniscus harder than that can bear.
    height, bore, head, celsius, water, entry = 11.0, 2.5, 45.0, 35.0, 0.08, 0.7
    rho, sigma = density(celsius, water), surface_tension(celsius, water) * 1e-3
    tank, mouth, radius = (height + head) * 1e-3, height * 1e-3, bore * 0.5e-3
    borne = entry * entry_pressure_factor(rho * G * radius**2 / sigma) * sigma / radius

    def excess(sump):
        tank_air = ATMOSPHERE - rho * G * (tank - sump)
        fuel_at_mouth = tank_air + rho * G * (tank - mouth)
        return ATMOSPHERE - fuel_at_mouth - borne

    expected = brentq(excess, 0.0, mouth, xtol=1e-12) * 1e3
    level = fuel_level(
        breather_height=height,
        breather_bore=bore,
        air_entry_factor=entry,
        fuel_temperature=celsius,
        fuel_water=water,
        tank_head=head,
        burn_rate=0.0,
        pipe_head_loss=0.0,
        cling_factor=0.0,
    )
    # The pressures are differences of 1e5 Pa: a few nanometres of rounding.
    assert level.level_low_at_wick == pytest.approx(expected, abs=1e-6)


def test_highest_level_by_boyles_law():
    # Air at atmospheric pressure fills the tank's space when the mouth is covered; fuel runs
    # until that air, spread over more room, carries the column down to the sump's surface.
    height, head, air, area, celsius = 11.0, 45.0, 60.0, 3.0, 35.0
    rho = density(celsius, 0.06)

    def excess(rise):
        room = air * 1e-6 + rise * area * 1e-4
        return ATMOSPHERE * air * 1e-6 / room - (ATMOSPHERE - rho * G * head * 1e-3)

    expected = brentq(excess, 0.0, 0.01, xtol=1e-12) * 1e3
    level = fuel_level(
        breather_height=height,
        tank_head=head,
        tank_air_volume=air,
        sump_free_area=area,
        fuel_temperature=celsius,
    )
    # First order in rho g H/p_atm = 0.0035.
    assert level.level_high_at_wick - height == pytest.approx(expected, rel=0.004)


@pytest.mark.parametrize(
    ("grade", "acceleration", "cant", "within"),
    [
        (0.0, 0.0, 0.0, 0.0),
        (1.0, 0.0, 0.0, 1e-12),
        (-4.0, 0.0, 0.0, 1e-12),
        (0.0, 0.3, 0.0, 1e-12),
        (0.0, 0.0, 8.0, 1e-12),
        (4.0, 0.3, 0.0, 1e-3),  # what the docstring admits
        (-2.0, 0.3, 5.0, 5e-3),
    ],
)
def test_shift_by_the_plane_square_to_effective_gravity(grade, acceleration, cant, within):
    # The frame pitched by the grade and rolled by the cant: its own axes in space.
    reach, lateral = 95.0, 20.0
    pitch, roll = np.arctan(grade / 100.0), np.deg2rad(cant)
    along = np.array([np.cos(pitch), 0.0, -np.sin(pitch)])  # wicks downhill of the mouth
    across = np.array([0.0, 1.0, 0.0])
    up = np.cross(along, across)
    across, up = (
        np.cos(roll) * across - np.sin(roll) * up,
        np.cos(roll) * up + np.sin(roll) * across,
    )
    # What the fuel feels: gravity, less the acceleration of the frame away from the wicks.
    felt = np.array([0.0, 0.0, -G]) + acceleration * along
    slope_along, slope_across = felt @ along / -(felt @ up), felt @ across / -(felt @ up)
    expected = reach * slope_along + lateral * slope_across
    where = {"reach": reach, "lateral": lateral}
    tilted = fuel_level(grade=grade, acceleration=acceleration, cant=cant, **where)
    level = fuel_level(**where)
    for one in ("level_high_at_wick", "level_low_at_wick"):
        moved = getattr(tilted, one) - getattr(level, one)
        assert moved == pytest.approx(expected, rel=within, abs=1e-12)


def test_bretherton_critical_bore():
    # Bretherton 1961: Bo = 0.842; at 20 degC 3.119 mm with CoolProp's surface tension, here
    # Jasper's, 0.08 % above it: 0.04 % in bore.
    critical = brentq(
        lambda bore: (
            fuel_level(breather_bore=bore, fuel_water=0.0).breather_bond_number - BOND_NUMBER_RISING
        ),
        1.0,
        6.0,
    )
    assert critical == pytest.approx(3.119, rel=1e-3)


# Conservation: what is between lip and crown is shared out, exactly.


@settings(max_examples=20, deadline=None, derandomize=True)
@given(shares=SHARES)
def test_the_window_is_shared_out(shares):
    design = designs(shares)
    level = fuel_level(**design)
    losses = design["pipe_head_loss"] + velocity_head(design)
    # Unlit the highest level has no losses, lit both have them and the lift.
    shared = (
        level.flood_margin
        + level.wick_starve_margin
        + level.level_band
        + np.maximum(losses - design["hot_column_lift"], 0.0)
    )
    window = design["wick_lip_height"] - 0.5 * design["pipe_bore"]
    # Rounding of heights of a few tens of mm.
    np.testing.assert_allclose(shared, window, rtol=0.0, atol=1e-12)
    lip = design["burner_height"] + design["wick_lip_height"]
    crown = design["burner_height"] + 0.5 * design["pipe_bore"]
    np.testing.assert_allclose(level.flood_margin, lip - level.level_high_at_wick, atol=1e-12)
    np.testing.assert_allclose(
        level.wick_starve_margin, level.level_low_at_wick - crown, atol=1e-12
    )
    held = level.wick_starve_margin + design["wick_hold"]
    np.testing.assert_array_equal(level.starve_margin, np.minimum(held, level.sump_starve_margin))


@settings(max_examples=10, deadline=None, derandomize=True)
@given(shares=SHARES)
def test_band_is_high_less_low_when_nothing_burns(shares):
    still = {"burn_rate": 0.0, "pipe_head_loss": 0.0, "hot_column_lift": 0.0}
    design = designs(shares) | still
    level = fuel_level(**design)
    between = level.level_high_at_wick - level.level_low_at_wick
    np.testing.assert_allclose(between, level.level_band, rtol=0.0, atol=1e-12)
    assert (level.level_band >= 0.0).all()


# Signs.


@pytest.mark.parametrize(
    ("argument", "flood", "starve"),
    [
        ("breather_height", -1, 1),
        ("breather_bore", 0, 1),  # square mouth: a wider face holds less head
        ("breather_wall", 0, 0),  # no ring
        ("breather_chamfer", 0, 0),
        ("receding_angle", 0, 0),
        ("scarf_closing", 0, 0),  # square mouth
        ("air_entry_factor", 0, -1),
        ("wick_hold", 0, 1),  # the outlet is far below
        ("outlet_height", 0, None),
        ("outlet_reach", 0, 0),
        ("hot_column_lift", None, 1),
        ("burner_height", 1, -1),
        ("pipe_bore", 0, -1),  # raises the crown
        ("wick_lip_height", 1, 0),
        ("grade", -1, 1),
        ("acceleration", -1, 1),
        ("fuel_temperature", 1, 1),  # lighter fuel, less vacuum; weaker meniscus
        ("tank_air_volume", -1, 0),
        ("tank_head", -1, 0),
        ("sump_free_area", 1, 0),
        ("pipe_head_loss", 0, -1),
        ("burn_rate", 0, -1),
        ("cant", 0, 0),  # no lateral distance
        ("lateral", 0, 0),  # no cant
        ("reach", 0, 0),  # level and at rest
        ("scarf_radius_factor", 0, 0),  # square mouth
    ],
)
def test_sign(argument, flood, starve):
    # Unlit but for the burn rate's own row: below 2 mm bore the velocity head would tell.
    values = np.linspace(*SPANS[argument], 41)
    level = fuel_level(**BEFORE | {"burn_rate": 0.0, argument: values})
    for margin, sign in ((level.flood_margin, flood), (level.starve_margin, starve)):
        if sign is None:
            continue
        change = np.diff(np.broadcast_to(margin, 41))
        assert (sign * change > 0.0).all() if sign else np.abs(change).max() < 1e-12


def test_reach_and_lateral_carry_their_slope():
    for where, slope in (("reach", "grade"), ("reach", "acceleration"), ("lateral", "cant")):
        for distance in (-20.0, 20.0):
            change = np.diff(
                fuel_level(
                    **{where: distance, slope: np.array([-1.0, 0.0, 1.0])}
                ).level_high_at_wick
            )
            assert (np.sign(change) == np.sign(distance)).all()


def test_more_air_and_head_overshoot_in_proportion():
    still = fuel_level(
        air_entry_factor=0.0, cling_factor=0.0, tank_air_volume=np.array([0.0, 20.0, 40.0])
    )
    assert still.level_band[0] == 0.0
    assert still.level_band[2] == pytest.approx(2.0 * still.level_band[1], rel=1e-14)


def test_wider_bore_bears_less_until_it_bears_nothing():
    bore = np.linspace(0.5, 12.0, 200)
    level = fuel_level(breather_bore=bore, tank_air_volume=0.0, cling_factor=0.0)
    holds = level.breather_bond_number < BOND_NUMBER_HELD
    assert 20 < holds.sum() < 180
    assert (np.diff(level.level_band[holds]) < 0.0).all()
    assert (level.level_band[~holds] == 0.0).all()


def test_scarfed_mouth_answers_at_its_upper_lip():
    faced = {"tank_air_volume": 0.0, "cling_factor": 0.0, "scarf_closing": 0.0}
    square = fuel_level(**faced)
    cut = fuel_level(breather_scarf=45.0, scarf_radius_factor=1.0, **faced)
    # 45 deg over a 5 mm bore lifts the upper lip by 5 mm and, at factor 1, changes no head.
    assert cut.level_high_at_wick - square.level_high_at_wick == pytest.approx(5.0, abs=1e-12)
    assert cut.level_band == pytest.approx(square.level_band, rel=1e-12)
    assert cut.breather_bond_number == square.breather_bond_number
    # At factor 1.5 the head is that of a square mouth half as wide again.
    cut = fuel_level(breather_scarf=45.0, scarf_radius_factor=1.5, **faced)
    wide = fuel_level(breather_bore=7.5, **faced)
    assert cut.level_band == pytest.approx(wide.level_band, rel=1e-12)


# The breather's end.


@pytest.mark.parametrize(
    ("end", "printed"),
    # What the edition before the outer rim, the wicks' hold and the outlet printed, mouth at 12 mm.
    [
        ({}, (2.4828, 1.0920, 0.9232, 12.1172, 10.6920)),
        (
            {"breather_bore": 3.0, "breather_scarf": 20.0},
            (1.3909, 0.8848, 2.2223, 13.2091, 10.4848),
        ),
    ],
)
def test_zero_gives_the_former_answers(end, printed):
    level = fuel_level(breather_height=12.0, **end, **BEFORE)
    fields = ("flood_margin", "starve_margin", "level_band", "level_high_at_wick")
    for name, value in zip((*fields, "level_low_at_wick"), printed, strict=True):
        assert getattr(level, name) == pytest.approx(value, abs=6e-5), name


def test_air_waits_for_the_worse_of_the_two_never_for_their_sum():
    bore = np.linspace(1.5, 8.0, 60)
    level = fuel_level(breather_bore=bore, tank_air_volume=0.0)
    deeper = np.maximum(level.inner_depression, level.outer_depression)
    np.testing.assert_allclose(level.level_band, deeper, rtol=1e-12)
    assert (level.inner_depression > level.outer_depression).any()
    assert (level.inner_depression < level.outer_depression).any()


def test_ring_by_its_own_rim():
    level = fuel_level(breather_bore=5.0, breather_wall=0.7, receding_angle=12.0)
    length = np.sqrt(surface_tension(20.0, 0.06) * 1e-3 / (density(20.0, 0.06) * G)) * 1e3
    expected = 0.9 * length * ring_depth(3.2 / length, 12.0)
    assert level.outer_depression == pytest.approx(expected, rel=1e-12)
    # A bevel down to the bore, a tube without wall: the same rim.
    bevelled = fuel_level(breather_wall=0.7, breather_chamfer=1.0)
    assert bevelled.outer_depression == fuel_level(breather_wall=0.0).outer_depression
    half = fuel_level(breather_wall=0.8, breather_chamfer=0.5)
    assert half.outer_depression == pytest.approx(
        fuel_level(breather_wall=0.4).outer_depression, rel=1e-14
    )
    # A slant acts on the ring as a receding angle, up to the 60 deg that were solved.
    slanted = fuel_level(breather_scarf=np.array([25.0, 45.0, 60.0]), receding_angle=20.0)
    angled = fuel_level(receding_angle=np.array([45.0, 60.0, 60.0]))
    np.testing.assert_allclose(slanted.outer_depression, angled.outer_depression, rtol=1e-14)


def test_slanted_end_shuts_early():
    length = np.sqrt(surface_tension(20.0, 0.06) * 1e-3 / (density(20.0, 0.06) * G)) * 1e3
    rise = 0.6 * length * side_rise(3.0 / length)
    level = fuel_level(breather_scarf=np.array([0.0, 15.0, 30.0, 45.0]))
    np.testing.assert_allclose(level.closing_depth, [0.0, rise / 2, rise, rise], atol=1e-12)
    # Never deeper than air enters.
    shallow = fuel_level(breather_scarf=45.0, cling_factor=0.0, scarf_closing=1.0)
    assert shallow.closing_depth == shallow.inner_depression
    assert shallow.level_band == pytest.approx(
        fuel_level(tank_air_volume=20.0).level_band - fuel_level(tank_air_volume=0.0).level_band
    )


@settings(max_examples=10, deadline=None, derandomize=True)
@given(shares=SHARES)
def test_slosh_only_ever_raises_the_level(shares):
    design = designs(shares)
    still, moved = fuel_level(**design | {"slosh_amplitude": 0.0}), fuel_level(**design)
    amplitude = design["slosh_amplitude"]
    np.testing.assert_allclose(
        moved.level_low_at_wick - still.level_low_at_wick, amplitude, rtol=0.0, atol=1e-12
    )
    raised = moved.level_high_at_wick - still.level_high_at_wick
    width = np.maximum(still.inner_depression, still.outer_depression) - still.closing_depth
    np.testing.assert_allclose(raised, np.maximum(amplitude - width, 0.0), rtol=0.0, atol=1e-12)


@pytest.mark.parametrize(
    ("depression", "amplitude", "mean_low"),
    # An independent run in time, 4 Hz, 3 ml/min: mean level at its lowest, over the mouth.
    [(1.0, 0.3, -0.73), (1.0, 0.6, -0.43), (1.0, 1.5, 0.48), (2.7, 1.0, -1.73), (2.7, 3.0, 0.27)],
)
def test_slosh_against_a_run_in_time(depression, amplitude, mean_low):
    # Run anew, half a millisecond a step, 6 ml/min fed and 3 burnt on 4 cm2. Air enters at a
    # trough below the depression and the vacuum is gone; a crest over the mouth shuts it, and
    # the valve feeds until the vacuum is rebuilt: 0.117 mm, as with 20 ml of air, 30 mm high.
    step, fed, burnt, vacuum = 0.0005, 6.0 / 60.0 / 0.4, 3.0 / 60.0 / 0.4, 0.117
    level = 0.3 + max(0.0, amplitude - depression)
    is_open, wanted, levels = False, 0.0, []
    for tick in range(80_000):
        now = level + amplitude * math.sin(2.0 * math.pi * 4.0 * step * tick)
        is_open = now < -depression or (is_open and now < 0.0)
        wanted = vacuum if is_open else wanted
        feeds = fed if wanted > 0.0 else 0.0
        level, wanted = level + step * (feeds - burnt), wanted - step * feeds
        if levels or is_open:  # from the first air on
            levels.append(level)
    lowest, highest = min(levels), max(levels)
    # Half a unit of the last digit, and a third of a wave: both runs end up in another phase.
    assert lowest == pytest.approx(mean_low, abs=0.015)
    ours = fuel_level(
        breather_bore=20.0,  # no face
        cling_factor=depression / fuel_level(breather_bore=20.0, cling_factor=1.0).outer_depression,
        slosh_amplitude=amplitude,
        breather_height=20.0,
        pipe_head_loss=0.0,
        burn_rate=0.0,
    )
    # What is burnt in a wave: 0.031 mm.
    assert ours.level_low_at_wick - 20.0 - lowest == pytest.approx(0.031, abs=0.01)
    # Crests shut the mouth earlier than the mean level, which is what counts in the model.
    assert highest < ours.level_high_at_wick - 20.0 + 0.01


def test_hot_fuel_lifts_the_lit_level_alone():
    cold, hot = fuel_level(), fuel_level(hot_column_lift=0.3)
    assert hot.wick_starve_margin - cold.wick_starve_margin == pytest.approx(0.3, abs=1e-12)
    assert hot.sump_starve_margin == cold.sump_starve_margin
    assert hot.flood_margin == cold.flood_margin
    # More than the pipe loses, and the level stands highest while lit.
    hot = fuel_level(hot_column_lift=0.8)
    lost = 0.5 + velocity_head(DEFAULTS)
    assert cold.flood_margin - hot.flood_margin == pytest.approx(0.8 - lost, abs=1e-12)


def test_wet_wicks_hold_at_the_wicks_alone():
    held = fuel_level(wick_hold=np.linspace(0.0, 6.0, 61), outlet_height=8.5)
    gain = held.starve_margin - held.starve_margin[0]
    # Up to the crown of the outlet, half a millimetre above that of the burner pipe.
    assert (np.diff(gain) >= 0.0).all()
    assert held.starve_margin[-1] == held.sump_starve_margin[-1]
    assert np.ptp(held.wick_starve_margin) == np.ptp(held.sump_starve_margin) == 0.0
    tilted = fuel_level(outlet_reach=np.array([0.0, 10.0]), grade=-1.0)
    assert np.diff(tilted.sump_starve_margin) == pytest.approx(-0.1, abs=1e-12)


def test_velocity_head_is_a_few_micrometres():
    still, burning = fuel_level(burn_rate=0.0), fuel_level()
    fall = still.level_low_at_wick - burning.level_low_at_wick
    assert fall == pytest.approx(velocity_head(DEFAULTS), rel=1e-9)
    assert 0.001 < fall < 0.005


# Limits and shapes.


@pytest.mark.parametrize(
    ("argument", "values"),
    [
        ("breather_height", [0.0, -1.0]),
        ("breather_bore", [0.0, -1.0, 5e-324, np.inf]),
        ("breather_wall", [-0.1, np.inf]),
        ("breather_scarf", [-0.1, 60.1, 90.0]),
        ("breather_chamfer", [-0.1, 1.1]),
        ("scarf_radius_factor", [0.99, 1.61]),
        ("scarf_closing", [-0.1, 1.1]),
        ("air_entry_factor", [-0.1]),
        ("cling_factor", [-0.1, np.inf]),
        ("receding_angle", [-0.1, 60.1]),
        ("slosh_amplitude", [-0.1, np.inf]),
        ("burner_height", [np.inf]),
        ("outlet_height", [np.inf, -np.inf]),
        ("pipe_bore", [0.0, -1.0, 1e-300, 1e300]),
        ("wick_lip_height", [0.0, 1.6, -3.0]),  # the crown is 1.6 mm above the axis
        ("wick_hold", [-0.1, np.inf]),
        ("reach", [np.inf]),
        ("outlet_reach", [np.inf]),
        ("hot_column_lift", [np.inf, -np.inf]),
        ("lateral", [np.inf]),
        ("grade", [np.inf, -np.inf]),
        ("acceleration", [np.inf]),
        ("cant", [-45.1, 90.0, np.inf]),
        ("fuel_temperature", [-0.1, 60.1, 78.4]),
        ("fuel_water", [-0.01, 0.16]),
        ("burn_rate", [-0.1, 1e300]),
        ("tank_air_volume", [-0.1, np.inf]),
        ("tank_head", [-0.1]),
        ("sump_free_area", [0.0, -4.0, 1e-320]),
        ("pipe_head_loss", [-0.1, np.inf]),
    ],
)
def test_no_answer_outside_and_none_spoilt_beside(argument, values):
    bad = [*values, np.nan]
    mixed = fuel_level(**{argument: np.array([DEFAULTS[argument], *bad, DEFAULTS[argument]])})
    for name, result, nominal in zip(mixed._fields, mixed, fuel_level(), strict=True):
        assert result[0] == result[-1] == nominal, name
        assert np.isnan(result[1:-1]).all(), name
    for value in bad:  # a held number must not raise either
        assert np.isnan(fuel_level(**{argument: value})).all()


@settings(max_examples=20, deadline=None, derandomize=True)
@given(samples=arrays.arrays(float, (len(SPANS), 12), elements=st.floats(width=64)))
def test_any_number_gives_a_number_or_nan(samples):
    level = fuel_level(**dict(zip(SPANS, samples, strict=True)))
    missing = np.isnan(level)
    assert (missing == missing[0]).all()
    assert np.isfinite(np.array(level)[~missing]).all()


@settings(max_examples=5, deadline=None, derandomize=True)
@given(shares=SHARES)
def test_arrays_agree_with_numbers(shares):
    design = designs(shares)
    level = fuel_level(**design)
    one = fuel_level(**{name: float(values[7]) for name, values in design.items()})
    for together, alone in zip(level, one, strict=True):
        assert isinstance(alone, float)
        assert together[7] == pytest.approx(alone, rel=1e-12, abs=1e-12)


def test_broadcasting():
    level = fuel_level(
        breather_height=np.linspace(10.0, 14.0, 4)[:, None], breather_bore=np.linspace(2.0, 6.0, 3)
    )
    assert {np.shape(result) for result in level} == {(4, 3)}


def test_nominal_design_works():
    level = fuel_level()
    assert 4.9 < DEFAULTS["wick_lip_height"] - DEFAULTS["pipe_bore"] / 2.0 < 5.1
    assert level.flood_margin > 0.0
    assert level.starve_margin > 0.0
