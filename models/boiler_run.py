"""The lap: boiler pressure in time, over a schedule of standing, blowing up and running."""

import inspect
from typing import Annotated, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array
from models.boiler_set_out import Lap, set_out
from models.boiler_steps import Boiler, Flags, gauge, run_step
from models.quantities import (
    AirInletArea,
    AmbientTemperature,
    AuxiliaryDraught,
    BlowerDraughtFactor,
    BlowerSteam,
    BypassArea,
    CondensationFactor,
    Cutoff,
    Cylinders,
    DeflectorEmissivity,
    DeflectorGap,
    DeflectorLength,
    DischargeCoefficient,
    DraughtExponent,
    Duration,
    ExhaustDraughtFactor,
    FeedTemperature,
    FireboxHeight,
    FireboxWidth,
    FireLoss,
    FlameFilmCoefficient,
    FuelTemperature,
    FuelWater,
    GasRadiationFactor,
    HeatTransferFactor,
    PistonBore,
    PistonStroke,
    Revolutions,
    StatedDraught,
    TubeBore,
    TubeCount,
    TubeLength,
    Unmixedness,
    WeighedBurnRate,
)


class BoilerRun(NamedTuple):
    """What a run does; the fields have the shape of the arguments together, less the steps."""

    lowest_pressure: Annotated[
        Array, "bar", "lowest pressure while the engine runs; at the end if it never does"
    ]
    minutes_to_steam: Annotated[
        Array, "min", "time until steam is raised; of the whole run if it never is"
    ]
    water_left: Annotated[Array, "ml", "water in the boiler at the end, measured cold"]
    steam_blown_off: Annotated[Array, "ml", "water that left by the safety valve, measured cold"]
    fuel_burnt: Annotated[Array, "ml", "fuel burnt in the run"]
    minutes_to_low_water: Annotated[
        Array, "min", "time until 5 ml of water are left; of the whole run if more are"
    ]


class BoilerRunTrace(NamedTuple):
    """The pressure of one boiler in time; one-dimensional arrays of one length."""

    minutes: Annotated[NDArray[np.float64], "min", "time from the start"]
    pressure: Annotated[NDArray[np.float64], "bar", "boiler pressure above the atmosphere"]


def boiler_run(
    duration: Annotated[Duration, "per step"] = 10.0,
    revolutions: Annotated[Revolutions, "per step"] = 180.0,
    blower_opening: Annotated[
        Array, "", "share of the blower's steam that is let through", "0..1", "per step", "running"
    ] = 0.0,
    auxiliary_draught: Annotated[AuxiliaryDraught, "per step"] = 30.0,
    feed_water: Annotated[
        Array,
        "ml/min",
        "water pumped into the boiler, measured cold",
        ">= 0",
        "per step",
        "running",
    ] = 0.0,
    deflector_gap: DeflectorGap = 5.0,
    deflector_length: DeflectorLength = 30.0,
    firebox_width: FireboxWidth = 45.0,
    firebox_height: FireboxHeight = 45.0,
    tube_count: TubeCount = 7.0,
    tube_bore: TubeBore = 8.5,
    tube_length: TubeLength = 150.0,
    air_inlet_area: AirInletArea = 150.0,
    bypass_area: BypassArea = 10.0,
    fuel_water: FuelWater = 0.06,
    fuel_temperature: FuelTemperature = 20.0,
    ambient_temperature: AmbientTemperature = 20.0,
    discharge_coefficient: DischargeCoefficient = 0.65,
    unmixedness: Unmixedness = 0.35,
    deflector_emissivity: DeflectorEmissivity = 0.8,
    flame_film_coefficient: FlameFilmCoefficient = 40.0,
    heat_transfer_factor: HeatTransferFactor = 1.0,
    gas_radiation_factor: GasRadiationFactor = 1.0,
    fire_loss: FireLoss = 0.5,
    weighed_burn_rate: WeighedBurnRate = 3.0,
    stated_draught: StatedDraught = 40.0,
    draught_exponent: DraughtExponent = 0.35,
    piston_bore: PistonBore = 11.0,
    piston_stroke: PistonStroke = 16.0,
    cylinders: Cylinders = 2.0,
    cutoff: Cutoff = 0.75,
    condensation_factor: CondensationFactor = 2.5,
    steam_pressure: Annotated[
        Array, "bar", "boiler pressure for which blower_steam is stated", "0..6.9", "running: 2..4"
    ] = 3.0,
    blower_steam: BlowerSteam = 2.0,
    blower_draught_factor: BlowerDraughtFactor = 10.0,
    exhaust_draught_factor: ExhaustDraughtFactor = 12.0,
    boiler_water: Annotated[
        Array, "ml", "water in the boiler at the start", "> 0", "running: +-10 normal"
    ] = 120.0,
    water_temperature_at_start: Annotated[
        Array,
        "degC",
        "temperature of boiler and water at the start",
        "0..100",
        "running: 5..40 triangular",
    ] = 20.0,
    feed_temperature: FeedTemperature = 20.0,
    boiler_heat_capacity: Annotated[
        Array, "J/K", "heat the metal of the boiler takes up for each kelvin", ">= 0"
    ] = 140.0,
    shell_loss_coefficient: Annotated[
        Array,
        "W/K",
        "heat the boiler's outside loses for each kelvin over the air",
        ">= 0",
        "model: 0.2..0.5 triangular",
    ] = 0.30,
    blow_off_pressure: Annotated[
        Array, "bar", "pressure at which the safety valve holds the boiler", "0..6.9"
    ] = 4.0,
    steam_raised: Annotated[
        Array, "bar", "pressure at which steam counts as raised", "0..6.9"
    ] = 2.0,
) -> BoilerRun:
    """Pressure in time over a schedule: steam raised, and whether it holds while running.

    Each step of the schedule holds for its `duration`. Per-step arguments have the step as
    their first axis, or are numbers that hold throughout; all others broadcast against the
    axes that are left. With T the temperature of water and metal, p its saturation pressure:

    * cylinder steam as in `steam_balance` at p, blower steam = blower_steam blower_opening
      p_abs/(that of steam_pressure); none of either at 100 degC or below.
    * draught = 0.5 Pa + auxiliary_draught + blower_draught_factor blower steam
      + exhaust_draught_factor cylinder steam, as in `smokebox_draught`; the burn follows it as
      in `follow_the_fire`, and the heat Q is that of `firebox_heat` at draught, burn and p.
    * d(m h_f + C T)/dt = Q - shell_loss_coefficient (T - T_ambient) - s h_g + feed h_feed and
      dm/dt = feed - s, s both steams, C boiler_heat_capacity: the same as
      (m c_w + C) dT/dt = Q - loss - s (h_g - h_f) + feed (h_feed - h_f).
    * at blow_off_pressure T stops, and what is over leaves as steam.

    Midpoint rule, 24 sub-steps a step of the schedule, the fire anew for every eight of them:
    within 0.02 bar, 0.02 min and 0.3 ml of a general solver with properties of IAPWS-95. Heat
    from the fire and in the feed = gain of water and metal + shell loss + heat in the steam
    that left, and water at the start + fed = left + used + blown off, to rounding.

    A step in which an engine in gear comes to steam is coarse (2 % of the fuel): cut it in two.
    A fire that gets less than a tenth of its air is out: it gives nothing and burns nothing,
    and lights again with its draught. A boiler with less than 5 ml of water is given up:
    minutes_to_low_water says when, the rest is NaN but for steam raised before. NaN also
    outside the ranges, and where the flow of gas is turbulent at any time (`firebox_heat`).
    The blower of a boiler without steam does nothing: steam is raised with auxiliary_draught.

    Doubts, as arguments: fire_loss and condensation_factor, which one weighing of fuel and
    water settles together; draught_exponent; exhaust_draught_factor 3 to 20 and
    blower_draught_factor 4 to 20 (no source; measure with a water gauge). That suction is in
    proportion to the steam is a choice. shell_loss_coefficient 0.2 to 0.5 W/K.
    boiler_heat_capacity is 0.385 J/K a gram of copper. Left out: the steam space (60 ml hold
    0.15 g), priming, a regulator that throttles, the time that metal and fire need to follow,
    walls of a cold boiler below 100 degC (3 % more heat while it warms), wicks that run short.
    """
    given = Lap(
        duration=duration,
        revolutions=revolutions,
        blower_opening=blower_opening,
        auxiliary_draught=auxiliary_draught,
        feed_water=feed_water,
        deflector_gap=deflector_gap,
        deflector_length=deflector_length,
        firebox_width=firebox_width,
        firebox_height=firebox_height,
        tube_count=tube_count,
        tube_bore=tube_bore,
        tube_length=tube_length,
        air_inlet_area=air_inlet_area,
        bypass_area=bypass_area,
        fuel_water=fuel_water,
        fuel_temperature=fuel_temperature,
        ambient_temperature=ambient_temperature,
        discharge_coefficient=discharge_coefficient,
        unmixedness=unmixedness,
        deflector_emissivity=deflector_emissivity,
        flame_film_coefficient=flame_film_coefficient,
        heat_transfer_factor=heat_transfer_factor,
        gas_radiation_factor=gas_radiation_factor,
        fire_loss=fire_loss,
        weighed_burn_rate=weighed_burn_rate,
        stated_draught=stated_draught,
        draught_exponent=draught_exponent,
        piston_bore=piston_bore,
        piston_stroke=piston_stroke,
        cylinders=cylinders,
        cutoff=cutoff,
        condensation_factor=condensation_factor,
        steam_pressure=steam_pressure,
        blower_steam=blower_steam,
        blower_draught_factor=blower_draught_factor,
        exhaust_draught_factor=exhaust_draught_factor,
        boiler_water=boiler_water,
        water_temperature_at_start=water_temperature_at_start,
        feed_temperature=feed_temperature,
        boiler_heat_capacity=boiler_heat_capacity,
        shell_loss_coefficient=shell_loss_coefficient,
        blow_off_pressure=blow_off_pressure,
        steam_raised=steam_raised,
    )
    with np.errstate(all="ignore"):
        engine, steps, boiler, sound, per_ml = set_out(given)
        for step in steps:
            boiler = run_step(engine, step, boiler)
        total = sum((step.duration for step in steps), 0.0 * boiler.clock)
        sound = sound & boiler.sound & np.isfinite(boiler.energy)
        wet = sound & np.isinf(boiler.dry_at)
        lowest = np.where(np.isinf(boiler.lowest), gauge(boiler.temperature), boiler.lowest)

        def masked(result: Array, where: Flags = wet) -> Array:
            kept: Array = np.where(where, result, np.nan)[()]
            return kept

        return BoilerRun(
            lowest_pressure=masked(lowest),
            minutes_to_steam=masked(
                np.minimum(boiler.raised_at, total), wet | (sound & np.isfinite(boiler.raised_at))
            ),
            water_left=masked(boiler.water / per_ml),
            steam_blown_off=masked(boiler.blown_off / per_ml),
            fuel_burnt=masked(boiler.burnt),
            minutes_to_low_water=masked(np.minimum(boiler.dry_at, total), sound),
        )


def boiler_run_trace(**arguments: Array) -> BoilerRunTrace:
    """Pressure of one boiler in time, to be drawn.

    Takes the arguments of `boiler_run` by name, as numbers, per-step ones also of shape
    (steps,). Ends where the boiler runs dry; a boiler without an answer has an empty trace.
    """
    bound = inspect.signature(boiler_run).bind(**arguments)
    bound.apply_defaults()
    points: list[tuple[float, float]] = []

    def watch(boiler: Boiler) -> None:
        minutes = np.asarray(boiler.clock).item()
        if np.isinf(boiler.dry_at):
            points.append((minutes, np.asarray(gauge(boiler.temperature)).item()))

    with np.errstate(all="ignore"):
        engine, steps, boiler, sound, _ = set_out(Lap(**bound.arguments))
        watch(boiler)
        for step in steps:
            boiler = run_step(engine, step, boiler, watch)
        if not (sound & boiler.sound & np.isfinite(boiler.energy)):
            points = []
    minutes, pressures = zip(*points, strict=True) if points else ((), ())
    return BoilerRunTrace(np.array(minutes, dtype=float), np.array(pressures, dtype=float))
