"""The feed in time: conservation, signs, limits, schedules, and the trace of one burner."""

import inspect

import hypothesis.extra.numpy as arrays
import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from models.feed_cycle import FeedCycle, feed_cycle, feed_cycle_trace
from models.feed_run import run_step
from models.feed_set_out import PER_STEP, Feed, set_out
from models.fuel_level import fuel_level

DEFAULTS = {name: one.default for name, one in inspect.signature(feed_cycle).parameters.items()}
SPANS = {  # wide but sane designs, many of which flood or starve
    "duration": (0.0, 6.0),
    "burn_rate": (0.0, 6.0),
    "valve_opening": (0.0, 1.0),
    "grade": (-3.0, 3.0),
    "acceleration": (-0.5, 0.5),
    "cant": (-5.0, 5.0),
    "breather_height": (9.0, 15.0),
    "breather_bore": (1.5, 8.0),
    "breather_wall": (0.1, 1.0),
    "breather_scarf": (0.0, 30.0),
    "breather_chamfer": (0.0, 1.0),
    "scarf_radius_factor": (1.0, 1.6),
    "scarf_closing": (0.0, 1.0),
    "air_entry_factor": (0.0, 1.2),
    "cling_factor": (0.0, 1.2),
    "receding_angle": (0.0, 60.0),
    "slosh_amplitude": (0.0, 2.0),
    "vacuum_breakdown": (0.0, 1.0),
    "burner_height": (5.0, 9.0),
    "outlet_height": (3.0, 9.0),
    "pipe_bore": (2.0, 4.0),
    "wick_lip_height": (3.0, 9.0),
    "wick_hold": (0.0, 6.0),
    "reach": (-100.0, 100.0),
    "outlet_reach": (-20.0, 20.0),
    "lateral": (-20.0, 20.0),
    "pipe_head_loss": (0.0, 1.5),
    "pipe_loss_burn_rate": (1.0, 5.0),
    "hot_column_lift": (0.0, 1.0),
    "fuel_temperature": (0.0, 60.0),
    "fuel_water": (0.0, 0.15),
    "sump_free_area": (1.0, 10.0),
    "sump_fill_at_start": (0.5, 1.0),
    "tank_volume": (60.0, 150.0),
    "tank_air_volume": (0.0, 60.0),
    "tank_head": (5.0, 60.0),
    "tank_floor_area": (5.0, 40.0),
    "feed_capacity": (0.0, 20.0),
    "valve_viscous_share": (0.0, 1.0),
}
STEPS, BURNERS = 5, 100
ROWS = len(SPANS) - len(PER_STEP) + STEPS * len(PER_STEP)
seeds = st.integers(0, 2**32 - 1)
few = settings(max_examples=5, deadline=None, derandomize=True)

RUN = {  # stand, light, level, up, down, burn out
    "duration": np.array([1.0, 0.5, 3.0, 3.0, 3.0, 3.0]),
    "burn_rate": np.array([0.0, 2.0, 2.0, 2.5, 2.0, 2.0]),
    "valve_opening": np.array([1.0, 1.0, 1.0, 1.0, 1.0, 0.0]),
    "grade": np.array([0.0, 0.0, 0.0, 1.25, -1.0, 0.0]),
}
FED = {name: value[:-1] for name, value in RUN.items()}
FACE = {"breather_height": 12.0, "cling_factor": 0.0}
"""A mouth at 12 mm with nothing on its outer rim: 0.81 mm of depression, many small feeds."""

BARE = FACE | {"wick_hold": 0.0, "outlet_height": -50.0}
"""And nothing that decides when the pipe draws air but its crown at the first wick."""


def designs(seed):
    """A row of burners and their runs; some steps take no time, but never all of them."""
    random = np.random.default_rng(seed)
    drawn = {}
    for name, span in SPANS.items():
        shape = (STEPS, BURNERS) if name in PER_STEP else BURNERS
        drawn[name] = random.uniform(*span, shape)
    drawn["duration"][:-1] *= random.random((STEPS - 1, BURNERS)) < 0.9
    drawn["burn_rate"] *= random.random((STEPS, BURNERS)) < 0.9
    drawn["valve_opening"] = np.minimum(1.3 * drawn["valve_opening"], 1.0)
    return drawn


def start_of(design):
    """Volume of fuel filled in: tank, and sump up to a share of what shuts the mouth."""
    d = DEFAULTS | design
    names = [name for name in inspect.signature(fuel_level).parameters if name not in PER_STEP]
    level = fuel_level(**{name: d[name] for name in names})
    mouth = d["breather_height"] + d["breather_bore"] * np.tan(np.radians(d["breather_scarf"]))
    enters = np.maximum(level.inner_depression, level.outer_depression) - d["slosh_amplitude"]
    shuts = mouth - np.minimum(level.closing_depth, enters)
    sump = 0.1 * d["sump_free_area"] * d["sump_fill_at_start"] * shuts
    return d["tank_volume"] - d["tank_air_volume"] + sump


def accounted(run):
    return run.fuel_left_in_tank + run.fuel_left_in_sump + run.burnt_volume + run.spilled_volume


def test_every_argument_is_covered_here():
    assert set(SPANS) == set(DEFAULTS)


# Conservation.


@few
@given(seed=seeds)
def test_fuel_is_conserved(seed):
    design = designs(seed)
    run = feed_cycle(**design)
    filled = start_of(design)
    np.testing.assert_allclose(accounted(run) / filled, 1.0, rtol=0.0, atol=1e-9)
    for volume in (run.fuel_left_in_tank, run.fuel_left_in_sump):
        assert (volume >= -1e-9).all()
    assert (run.spilled_volume >= 0.0).all()
    np.testing.assert_allclose(run.tank_air_at_end + run.fuel_left_in_tank, design["tank_volume"])


@few
@given(seed=seeds)
def test_what_is_burnt_is_the_burn_until_a_wick_is_out(seed):
    design = designs(seed)
    run = feed_cycle(**design)
    ends = np.cumsum(design["duration"], axis=0)
    begins = ends - design["duration"]
    lit = np.clip(run.minutes_to_wick_out - begins, 0.0, design["duration"])
    np.testing.assert_allclose(run.burnt_volume, (lit * design["burn_rate"]).sum(0), atol=1e-9)
    assert (run.minutes_to_wick_out <= ends[-1] + 1e-9).all()
    assert (run.run_flood_margin[run.spilled_volume > 1e-9] < 0.0).all()
    assert (run.spilled_volume[run.run_flood_margin < -1e-9] > 0.0).all()


@settings(max_examples=4, deadline=None, derandomize=True)
@given(seed=seeds)
def test_a_stride_over_many_feeds_is_those_feeds_one_by_one(seed):
    design = designs(seed)
    # Fed well and not flooding, so that no change of state blows up a small difference.
    design |= {"wick_lip_height": 60.0, "burner_height": -30.0, "valve_opening": np.ones(STEPS)}
    design |= {"breather_bore": 4.5, "breather_scarf": 0.0, "air_entry_factor": 0.8}
    design |= {"cling_factor": 0.0, "wick_hold": 0.0, "outlet_height": -30.0}
    design["slosh_amplitude"] *= 0.1  # more than the face bears leaves no band
    design["burn_rate"] = 1.0 + design["burn_rate"] / 4.0
    design["feed_capacity"] = 5.0 + design["feed_capacity"]
    design["tank_head"] = 40.0 + design["tank_head"]
    design["tank_floor_area"] = 15.0 + design["tank_floor_area"]
    design["sump_free_area"] = 2.0 + design["sump_free_area"]
    with np.errstate(all="ignore"):
        burner, wicks, steps, run, sound = set_out(Feed(**DEFAULTS | design))
        assert sound.all()
        strides, one_by_one = run, run
        for step in steps:
            strides = run_step(burner, wicks, step, strides)
            one_by_one = run_step(burner, wicks, step, one_by_one, watch=lambda *_: None)
    assert one_by_one.feeds.max() > 20.0
    np.testing.assert_allclose(strides.burnt, one_by_one.burnt, atol=1e-9)
    # A hundredth of a feed; but a whole one where a run ends just as one begins.
    apart = np.abs(strides.tank_fuel - one_by_one.tank_fuel)
    assert np.abs(strides.feeds - one_by_one.feeds).max() <= 1.0
    assert np.quantile(apart, 0.95) < 0.01
    for extreme in ("highest", "lowest_fed"):
        difference = np.abs(getattr(strides, extreme) - getattr(one_by_one, extreme))
        assert np.quantile(difference, 0.95) < 1e-3


# Signs.


def test_more_tank_air_peaks_higher():
    run = feed_cycle(tank_air_volume=np.linspace(0.0, 100.0, 21), tank_volume=160.0, **FED)
    assert (np.diff(run.highest_level_at_wick) > 0.0).all()
    assert np.ptp(run.lowest_level_at_wick) < 0.01


@pytest.mark.parametrize("where", ["grade", "acceleration", "cant"])
def test_slopes_shift_the_level(where):
    slope = np.array([[-0.4, -0.2, 0.0, 0.2, 0.4]]) * (0.1 if where == "acceleration" else 1.0)
    run = feed_cycle(**{where: slope, "lateral": 20.0})
    slopes = {"grade": 0.95 * slope, "acceleration": 95.0 * slope / 9.80665}
    shift = slopes.get(where, 20.0 * np.tan(np.radians(slope)))[0]
    for level in (run.highest_level_at_wick, run.lowest_level_at_wick):
        np.testing.assert_allclose(level - level[2], shift, atol=1e-12)
    np.testing.assert_allclose(run.run_flood_margin - run.run_flood_margin[2], -shift, atol=1e-12)
    np.testing.assert_allclose(run.burnt_volume, 15.0)


def test_up_then_down_the_bank():
    level = feed_cycle(**FED | {"grade": 0.0})
    bank = feed_cycle(**FED)
    # Up it raises the peak by 1.19 mm, less the loss at a greater burn; down it lowers the rest.
    assert 0.7 < bank.highest_level_at_wick - level.highest_level_at_wick < 1.1875
    assert bank.lowest_level_at_wick - level.lowest_level_at_wick < -0.8
    assert bank.burnt_volume == pytest.approx(level.burnt_volume, rel=1e-12)


@pytest.mark.parametrize(
    ("argument", "flood", "starve"),
    [
        ("breather_height", -1, 1),
        ("air_entry_factor", 0, -1),
        ("vacuum_breakdown", 0, 0),  # not on the first filling, which is the highest
        ("burner_height", 1, -1),
        ("outlet_height", 0, 0),
        ("wick_hold", 0, 1),
        ("hot_column_lift", 0, 1),
        ("wick_lip_height", 1, 0),
        ("tank_head", -1, 0),
        ("sump_free_area", 1, 0),
        ("pipe_head_loss", 0, -1),  # highest while it stands unlit
        ("pipe_loss_burn_rate", 0, 1),
    ],
)
def test_sign(argument, flood, starve):
    spans = {
        "tank_head": (25.0, 60.0),
        "breather_height": (11.0, 13.0),
        "pipe_head_loss": (0.2, 1.5),
        "outlet_height": (-60.0, -50.0),
        "hot_column_lift": (0.0, 0.3),
    }
    values = np.linspace(*spans.get(argument, SPANS[argument]), 21)
    if argument == "wick_lip_height":
        values = values + 2.0
    schedule = {"duration": np.array([1.0, 4.0]), "burn_rate": np.array([0.0, 2.0])}
    run = feed_cycle(**schedule, **BARE | {"breather_bore": 5.0, argument: values})
    for margin, sign in ((run.run_flood_margin, flood), (run.run_starve_margin, starve)):
        change = np.diff(np.broadcast_to(margin, 21))
        assert (sign * change > 0.0).all() if sign else np.abs(change).max() < 2e-3


def test_a_wider_valve_takes_shorter_to_feed():
    run = feed_cycle(feed_capacity=np.linspace(4.0, 20.0, 20), duration=10.0, burn_rate=2.0)
    assert (np.diff(run.feeds_per_minute) > -1e-9).all()
    assert run.feeds_per_minute[-1] > 2.0 * run.feeds_per_minute[0]


# Limits.


def test_valve_shut_burns_dry():
    # Common practice, no source: the pipe draws air and the first wick goes out.
    burn = np.array([1.0, 2.0, 4.0])
    run = feed_cycle(**BARE, valve_opening=0.0, burn_rate=burn[None], duration=10.0)
    speed = burn * 1e-6 / 60.0 / (np.pi / 4.0 * 3.2e-3**2)
    lost = 0.5 * burn / 3.0 + speed**2 / (2.0 * 9.80665) * 1e3
    crown = 8.0 + 1.6
    np.testing.assert_allclose(
        run.minutes_to_wick_out, 0.4 * (12.0 - crown - lost) / burn, rtol=1e-12
    )
    assert (run.fuel_left_in_tank == 40.0).all()
    # Then nothing burns: not in what is left of the step, nor in one that is lit again.
    np.testing.assert_allclose(run.burnt_volume, run.minutes_to_wick_out * burn, rtol=1e-12)
    again = feed_cycle(
        **BARE, valve_opening=np.array([0.0, 1.0]), duration=np.array([10.0, 5.0]), burn_rate=2.0
    )
    assert again.burnt_volume == pytest.approx(run.burnt_volume[1], rel=1e-12)
    assert again.fuel_left_in_tank < 40.0
    # All its steps being shut, it says how far the level would have fallen.
    assert (run.run_starve_margin < 0.0).all()


def test_the_outlet_in_the_sump_draws_air_first_where_the_wicks_hold():
    shut = BARE | {"valve_opening": 0.0, "duration": 20.0, "pipe_head_loss": 0.0, "burn_rate": 2.0}
    hold = np.linspace(0.0, 8.0, 9)
    run = feed_cycle(**shut | {"wick_hold": hold, "outlet_height": 3.0})
    # The first wick's crown less its hold, and never below the outlet's own crown, 4.6 mm.
    drawn_to = np.maximum(9.6 - hold, 4.6)
    np.testing.assert_allclose(run.fuel_left_in_sump, 0.4 * drawn_to, rtol=1e-3)
    assert run.fuel_left_in_sump[-1] == pytest.approx(0.4 * 4.6, rel=1e-12)
    uphill = feed_cycle(
        **shut | {"wick_hold": 8.0, "outlet_height": 3.0, "grade": -1.0}, outlet_reach=10.0
    )
    assert uphill.fuel_left_in_sump == pytest.approx(0.4 * 4.7, rel=1e-12)


def test_shut_valve_lets_the_breathers_column_fall():
    # Fed until the vacuum stands, then shut: 30 mm of a 5 mm bore, 0.59 ml, come on top.
    schedule = {"duration": np.array([2.0, 20.0]), "burn_rate": np.array([0.0, 2.0])}
    schedule |= {"valve_opening": np.array([1.0, 0.0])}
    bore = np.array([2.0, 3.0, 4.0, 5.0])
    run = feed_cycle(**schedule, breather_bore=bore, air_entry_factor=0.0)
    rise = feed_cycle(duration=2.0, burn_rate=0.0).highest_level_at_wick - 13.0
    head = 30.0 - 0.4 * rise / 1.8
    column = np.pi / 4.0 * bore**2 * head * 1e-3
    burnt = 0.4 * (13.0 + rise - 9.6) + column
    np.testing.assert_allclose(run.burnt_volume, burnt, rtol=1e-9)
    np.testing.assert_allclose(run.minutes_to_wick_out, 2.0 + burnt / 2.0, rtol=1e-9)
    np.testing.assert_allclose(run.fuel_left_in_tank, 40.0 - 0.4 * rise - column, rtol=1e-9)
    # One entry of air, or two where the column shuts the mouth again before it is all out.
    small = feed_cycle(**schedule, sump_free_area=2.0)
    assert run.feeds_per_minute[-1] * burnt[-1] / 2.0 == pytest.approx(1.0, rel=1e-9)
    assert small.feeds_per_minute * small.burnt_volume / 2.0 == pytest.approx(2.0, rel=1e-9)
    np.testing.assert_allclose(accounted(run), 45.2, rtol=1e-12)
    # Shut before the vacuum ever stood, there is no column.
    never = feed_cycle(duration=20.0, burn_rate=2.0, valve_opening=0.0)
    assert never.burnt_volume == pytest.approx(0.4 * (13.0 - 9.6), rel=1e-12)


def test_the_breather_governs_though_the_valve_stands_wide_open():
    # Common practice, no source: where the valve passes enough, more turns change no level.
    capacity = np.array([4.6, 10.0, 50.0, 200.0])
    run = feed_cycle(feed_capacity=capacity, duration=12.0, burn_rate=2.0)
    assert np.ptp(run.highest_level_at_wick) < 0.01
    assert np.ptp(run.lowest_level_at_wick) < 0.01
    assert (run.spilled_volume == 0.0).all()


def test_shutting_the_valve_for_a_moment_changes_little():
    # Open, shut for a second in the middle of a feed, open: the column is drawn up again.
    d = {"duration": np.array([3.2, 1.0 / 60.0, 6.0]), "burn_rate": 2.0}
    held = feed_cycle(**d, valve_opening=np.array([1.0, 0.0, 1.0]))
    free = feed_cycle(**d)
    for field in ("highest_level_at_wick", "lowest_level_at_wick", "burnt_volume"):
        assert getattr(held, field) == pytest.approx(getattr(free, field), abs=0.02), field
    assert accounted(held) == pytest.approx(accounted(free), rel=1e-12)


def test_first_filling_builds_the_vacuum_whole():
    # However little of it is lost when air enters, the first filling starts from nothing.
    breakdown = np.array([0.0, 0.5, 1.0])
    air = {"tank_air_volume": 60.0, "tank_volume": 120.0, "vacuum_breakdown": breakdown}
    first = feed_cycle(duration=3.0, burn_rate=0.0, **air)
    assert np.ptp(first.highest_level_at_wick) == 0.0
    static = fuel_level(tank_air_volume=60.0)
    np.testing.assert_allclose(first.highest_level_at_wick, static.level_high_at_wick, atol=0.005)
    # Then each feed brings up so much less: the tank is emptied by as many smaller ones.
    later = feed_cycle(duration=12.0, burn_rate=2.0, **air)
    assert (np.diff(later.feeds_per_minute) < 0.0).all()
    trace = [
        feed_cycle_trace(duration=12.0, burn_rate=2.0, **air | {"vacuum_breakdown": one})
        for one in (0.0, 1.0)
    ]
    lost, whole = (one.level_at_wick[one.minutes > 4.0].max() for one in trace)
    assert whole - lost == pytest.approx(static.level_high_at_wick - 13.0, rel=0.15)


def test_a_crown_below_the_sump_floor_burns_the_sump_empty():
    low = BARE | {"burner_height": -5.0, "wick_lip_height": 25.0}
    run = feed_cycle(**low, valve_opening=0.0, duration=10.0)
    assert run.burnt_volume == pytest.approx(0.4 * 12.0, rel=1e-12)
    assert run.fuel_left_in_sump == pytest.approx(0.0, abs=1e-12)
    assert run.minutes_to_wick_out == pytest.approx(0.4 * 12.0 / 3.0, rel=1e-12)


def test_shutting_the_valve_at_the_end_is_not_starving():
    run, fed = feed_cycle(**RUN), feed_cycle(**FED)
    assert run.minutes_to_wick_out < 13.5
    assert run.run_starve_margin == fed.run_starve_margin > 0.0


def test_mouth_above_the_lip_overflows_until_the_tank_is_empty():
    run = feed_cycle(breather_height=16.0, duration=60.0, burn_rate=0.0, sump_fill_at_start=0.1)
    assert run.fuel_left_in_tank < 1e-6
    assert run.fuel_left_in_sump == pytest.approx(0.4 * 14.6, abs=1e-9)  # up to the lip
    assert run.spilled_volume == pytest.approx(40.0 + 0.4 * 1.6 - 0.4 * 14.6, abs=2e-6)
    assert run.run_flood_margin < -1.4
    # A lip that is just above what the breather lets stand keeps it all in.
    kept = feed_cycle(breather_height=14.4, duration=60.0, burn_rate=0.0)
    assert kept.spilled_volume == 0.0
    assert kept.fuel_left_in_tank > 39.9


def test_blocked_breather_feeds_nothing():
    run = feed_cycle(**BARE, air_entry_factor=1e6, tank_air_volume=0.0, duration=20.0)
    assert run.fuel_left_in_tank == pytest.approx(60.0, abs=1e-5)
    assert run.feeds_per_minute == 0.0
    assert run.minutes_to_wick_out == pytest.approx(0.4 * (12.0 - 9.6 - 0.5) / 3.0, rel=0.01)
    # With air in the tank that air gives a little, and then nothing.
    run = feed_cycle(air_entry_factor=1e6, duration=20.0)
    assert 0.05 < 40.0 - run.fuel_left_in_tank < 0.2


def test_too_fine_a_valve_starves_the_later_the_wider():
    capacity = np.linspace(1.0, 3.0, 9)
    run = feed_cycle(**BARE, feed_capacity=capacity, duration=12.0, tank_floor_area=100.0)
    assert (run.run_starve_margin < 0.0).all()
    assert (np.diff(run.minutes_to_wick_out) > 0.0).all()
    # Steady shortfall: from the mouth to the crown at burn less feed, the overshoot never made.
    fall = 0.4 * (12.0 - 9.6 - 0.5)
    np.testing.assert_allclose(run.minutes_to_wick_out[:5], fall / (3.0 - capacity[:5]), rtol=0.05)


def test_starve_margin_passes_through_nothing():
    # The crown is raised past the lower edge: as `fuel_level` has it, no step at 0.
    height = np.linspace(8.0, 10.0, 201)
    run = feed_cycle(**BARE | {"burner_height": height}, wick_lip_height=8.0, duration=2.0)
    np.testing.assert_allclose(np.diff(run.run_starve_margin), -0.01, atol=1e-9)
    assert run.run_starve_margin[0] > 0.0 > run.run_starve_margin[-1]
    out = run.minutes_to_wick_out < 2.0
    assert (out == (run.run_starve_margin < 0.0)).all()


def test_no_head_and_no_air_is_a_steady_feed():
    none = {"air_entry_factor": 0.0, "tank_air_volume": 0.0, "vacuum_breakdown": 0.0}
    run = feed_cycle(**BARE, **none, duration=3.0)
    assert run.highest_level_at_wick - run.lowest_level_at_wick < 1e-3
    assert run.feeds_per_minute > 1e3
    assert run.burnt_volume == pytest.approx(9.0, rel=1e-12)


# Schedules.


def test_shapes_of_per_step_arguments():
    plain = feed_cycle(**RUN)
    assert all(isinstance(result, float) for result in plain)
    many = {name: value[:, None] + np.zeros(3) for name, value in RUN.items()}
    for schedule in (many, {name: value[:, None] for name, value in RUN.items()}, RUN):
        run = feed_cycle(**schedule, breather_height=np.array([12.9, 13.0, 13.1]))
        for field, result, one in zip(run._fields, run, plain, strict=True):
            assert result.shape == (3,)
            assert result[1] == pytest.approx(one, rel=1e-12), field
    run = feed_cycle(**RUN, breather_height=np.array([[12.9], [13.0]]), breather_bore=np.ones(3))
    assert {result.shape for result in run} == {(2, 3)}
    assert {np.shape(result) for result in feed_cycle(duration=np.ones((4, 1)))} == {(1,)}


def test_numbers_hold_in_every_step():
    split = feed_cycle(duration=np.array([1.0, 1.5, 2.5]), grade=0.5)
    whole = feed_cycle(duration=5.0, grade=0.5)
    for field, one, other in zip(split._fields, split, whole, strict=True):
        assert one == pytest.approx(other, abs=5e-3), field


def test_unequal_numbers_of_steps_are_refused():
    with pytest.raises(ValueError, match=r"\[2, 3\] steps"):
        feed_cycle(duration=np.ones(3), grade=np.zeros(2))


@few
@given(seed=seeds)
def test_a_step_that_takes_no_time_does_nothing(seed):
    design = designs(seed)
    whole = feed_cycle(**design)
    worst = {"duration": 0.0, "burn_rate": 6.0, "valve_opening": 1.0, "grade": 30.0}
    between = {name: np.insert(design[name], 2, worst.get(name, 0.0), axis=0) for name in PER_STEP}
    for one, other in zip(feed_cycle(**design | between), whole, strict=True):
        np.testing.assert_array_equal(one, other)


def test_no_time_at_all_has_no_level():
    assert np.isnan(feed_cycle(duration=0.0)).all()


# Bad points, and independence.


@pytest.mark.parametrize(
    ("argument", "values"),
    [
        ("duration", [-1.0, np.inf]),
        ("burn_rate", [-0.1, 1e300]),
        ("valve_opening", [-0.1, 1.1]),
        ("grade", [np.inf]),
        ("acceleration", [-np.inf]),
        ("cant", [46.0, 90.0]),
        ("breather_height", [0.0, -1.0]),
        ("breather_bore", [0.0, -1.0, np.inf]),
        ("breather_wall", [-0.1, np.inf]),
        ("breather_scarf", [-0.1, 90.0]),
        ("breather_chamfer", [-0.1, 1.1]),
        ("scarf_radius_factor", [0.9, 1.7]),
        ("scarf_closing", [-0.1, 1.1]),
        ("air_entry_factor", [-0.1]),
        ("cling_factor", [-0.1, np.inf]),
        ("receding_angle", [-0.1, 60.1]),
        ("slosh_amplitude", [-0.1, np.inf]),
        ("vacuum_breakdown", [-0.1, 1.1]),
        ("burner_height", [np.inf]),
        ("outlet_height", [np.inf, -np.inf]),
        ("pipe_bore", [0.0, 1e-300]),
        ("wick_lip_height", [0.0, 1.6]),  # the crown is 1.6 mm above the axis
        ("wick_hold", [-0.1, np.inf]),
        ("reach", [np.inf]),
        ("outlet_reach", [np.inf]),
        ("hot_column_lift", [np.inf, -np.inf]),
        ("lateral", [np.inf]),
        ("pipe_head_loss", [-0.1]),
        ("pipe_loss_burn_rate", [0.0]),
        ("fuel_temperature", [-0.1, 60.1]),
        ("fuel_water", [0.16]),
        ("sump_free_area", [0.0, -4.0]),
        ("sump_fill_at_start", [-0.1, 1.1]),
        ("tank_volume", [0.0, 19.9]),  # less than the air in it
        ("tank_air_volume", [-0.1, 60.1]),
        ("tank_head", [0.0, -1.0]),
        ("tank_floor_area", [0.0]),
        ("feed_capacity", [-0.1, np.inf]),
        ("valve_viscous_share", [-0.1, 1.1]),
    ],
)
def test_no_answer_outside_and_none_spoilt_beside(argument, values):
    bad = [*values, np.nan]
    good = FED.get(argument, np.full(5, DEFAULTS[argument]))
    if argument in PER_STEP:
        mixed = np.repeat(good[:, None], len(bad) + 2, axis=1)
        mixed[3, 1:-1] = bad
    else:
        mixed = np.array([DEFAULTS[argument], *bad, DEFAULTS[argument]])
    run, nominal = feed_cycle(**FED | {argument: mixed}), feed_cycle(**FED)
    for name, result, one in zip(run._fields, run, nominal, strict=True):
        assert result[0] == result[-1] == pytest.approx(one, rel=1e-12), name
        assert np.isnan(result[1:-1]).all(), name
    for value in bad:  # a held number must not raise either
        assert np.isnan(feed_cycle(**{argument: value})).all()


@settings(max_examples=20, deadline=None, derandomize=True)
@given(samples=arrays.arrays(float, (ROWS, 8), elements=st.floats(width=64)))
def test_any_number_gives_a_number_or_nan(samples):
    rows = iter(samples)
    drawn = {
        name: np.array([next(rows) for _ in range(STEPS)]) if name in PER_STEP else next(rows)
        for name in SPANS
    }
    run = feed_cycle(**drawn)
    missing = np.isnan(run)
    assert (missing == missing[0]).all()
    assert np.isfinite(np.array(run)[~missing]).all()


@settings(max_examples=3, deadline=None, derandomize=True)
@given(seed=seeds)
def test_no_burner_depends_on_its_neighbours(seed):
    design = designs(seed)
    together = feed_cycle(**design)
    for burner in range(0, BURNERS, 9):
        alone = feed_cycle(**{name: values[..., burner] for name, values in design.items()})
        for field, one, other in zip(FeedCycle._fields, alone, together, strict=True):
            assert isinstance(one, float)
            assert one == pytest.approx(other[burner], rel=1e-9, abs=1e-9), field


def test_burners_followed_in_blocks_are_those_followed_at_once(monkeypatch):
    design = designs(11)
    together = feed_cycle(**design)
    monkeypatch.setattr("models.feed_cycle.BLOCK", 7)
    for one, other in zip(feed_cycle(**design), together, strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-9)


# The trace.


@pytest.mark.parametrize(
    "design",
    [
        {},
        {"breather_bore": 4.0, "breather_scarf": 15.0},
        {"tank_air_volume": 60.0, "tank_volume": 120.0},
        {"feed_capacity": 12.0, "valve_viscous_share": 0.0},
    ],
)
def test_extremes_of_the_trace(design):
    design = FACE | FED | design
    trace, run = feed_cycle_trace(**design), feed_cycle(**design)
    assert run.spilled_volume == 0.0
    assert run.minutes_to_wick_out == pytest.approx(10.5, rel=1e-12)
    lit = trace.minutes >= 1.0
    assert trace.level_at_wick.max() == pytest.approx(run.highest_level_at_wick, abs=0.005)
    assert trace.level_at_wick[lit].min() == pytest.approx(run.lowest_level_at_wick, abs=0.005)


def test_trace_of_a_fire_that_is_let_go_out():
    trace, run = feed_cycle_trace(**RUN), feed_cycle(**RUN)
    assert (np.diff(trace.minutes) >= 0.0).all()
    assert (trace.minutes[0], trace.minutes[-1]) == (0.0, pytest.approx(13.5))
    assert list(np.unique(trace.step)) == [0, 1, 2, 3, 4, 5]
    assert (np.diff(trace.step) >= 0).all()
    lowest = trace.level_at_wick.argmin()
    # The outlet's crown in the sump, less what 2 ml/min lose in the pipe: the wicks hold 2 mm.
    speed = 2e-6 / 60.0 / (np.pi / 4.0 * 3.2e-3**2)
    drained = 9.6 - 0.5 * 2.0 / 3.0 - speed**2 / (2.0 * 9.80665) * 1e3
    assert trace.level_at_wick[lowest] == pytest.approx(drained, abs=1e-9)
    assert trace.minutes[lowest] == pytest.approx(run.minutes_to_wick_out, abs=0.02)
    ends = np.cumsum(RUN["duration"])
    for step, end in enumerate(ends):
        inside = trace.minutes[trace.step == step]
        assert inside[0] == pytest.approx(end - RUN["duration"][step])
        assert inside[-1] == pytest.approx(end)


def test_trace_ends_at_the_lip():
    trace = feed_cycle_trace(breather_height=16.0, duration=3.0, burn_rate=0.0)
    assert trace.level_at_wick.max() == pytest.approx(14.6, abs=1e-12)


def test_a_burner_without_an_answer_has_no_trace():
    trace = feed_cycle_trace(breather_bore=0.0)
    assert {part.size for part in trace} == {0}


def test_nominal_design_works():
    run = feed_cycle(**FED)
    assert run.run_flood_margin > 0.5
    assert run.run_starve_margin > 0.5
    assert run.minutes_to_wick_out == pytest.approx(10.5, rel=1e-12)
    assert 0.5 < run.feeds_per_minute < 2.0
    assert np.isfinite(feed_cycle()).all()
