"""Figures of the models: plain functions from a design and a sample of burners to axes.

``nominal`` holds a model's arguments as numbers, ``burners`` the same arguments as arrays (n,)
over a sample of burners. A band is where the middle 90 % of the burners lie.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from models.arrays import Array
from models.feed_cycle import feed_cycle_trace
from models.firebox_heat import firebox_heat
from models.orifice_flow import needle_valve

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Arguments = Mapping[str, Array]

SETTINGS = 41
"""Settings along the axis of a figure."""

TRACED = 12
"""Burners whose level is traced through a schedule beside the drawn one's."""


def _swept(arguments: Arguments, name: str, settings: Array) -> dict[str, Array]:
    """Give each argument the burners' axis behind the settings' axis: (m, n)."""
    burners = {key: np.asarray(value)[None, ...] for key, value in arguments.items()}
    return {**burners, name: np.asarray(settings)[:, None]}


def _band(axes: "Axes", settings: Array, values: Array, colour: str, label: str) -> None:
    """Draw the median over the burners (m, n) as a line, and their middle 90 % as a band.

    Nothing is drawn where no burner has an answer.
    """
    answered = np.isfinite(values).any(axis=1)
    settings, values = np.asarray(settings)[answered], np.asarray(values)[answered]
    with np.errstate(all="ignore"):
        low, middle, high = np.nanquantile(values, [0.05, 0.5, 0.95], axis=1)
    axes.fill_between(settings, low, high, color=colour, alpha=0.25, linewidth=0)
    axes.plot(settings, middle, color=colour, label=label)


def heat_against_gap(axes: "Axes", nominal: Arguments, burners: Arguments) -> None:
    """Where the heat goes against the gap over the deflector, with bands of 90 % of burners."""
    drawn = float(nominal["deflector_gap"])
    settings = np.linspace(
        0.15 * drawn, min(3.0 * drawn, 0.8 * nominal["firebox_height"]), SETTINGS
    )
    heat = firebox_heat(**_swept(burners, "deflector_gap", settings))
    released = 100.0 * np.asarray(heat.heat_to_boiler) / np.asarray(heat.efficiency)
    up_the_chimney = released * heat.burnt_fraction - heat.heat_to_boiler - heat.heat_lost
    for values, colour, label in (
        (heat.heat_firebox, "#D55E00", "to the firebox"),
        (heat.heat_tubes, "#0072B2", "to the tubes"),
        (heat.heat_lost, "#CC9A00", "lost on the way to the water"),
        (up_the_chimney, "#8a8f98", "out of the smokebox"),
    ):
        _band(axes, settings, np.asarray(values), colour, label)
    axes.axvline(drawn, color="#22262b", linestyle="--", linewidth=1)
    axes.annotate("as drawn", (drawn, 1), xycoords=("data", "axes fraction"), va="top", fontsize=8)
    axes.set_xlabel("gap over the deflector, mm")
    axes.set_ylabel("heat, W")
    axes.set_ylim(bottom=0)
    axes.legend()


def capacity_against_turns(axes: "Axes", nominal: Arguments, burners: Arguments) -> None:
    """What the needle valve passes against its turns, with a band of 90 % of burners."""
    drawn = float(nominal["needle_turns"])
    settings = np.linspace(0.0, 2.5 * drawn, SETTINGS)
    flow = needle_valve(**_swept(burners, "needle_turns", settings))
    _band(axes, settings, np.asarray(flow.feed_capacity), "#0072B2", "valve passes")
    burnt = float(nominal["burn_rate"])
    axes.axhline(burnt, color="#D55E00", linewidth=1.2, label="wicks burn")
    axes.axvline(drawn, color="#22262b", linestyle="--", linewidth=1)
    axes.annotate("as drawn", (drawn, 1), xycoords=("data", "axes fraction"), va="top", fontsize=8)
    axes.set_xlabel("turns of the needle from shut")
    axes.set_ylabel("fuel, ml/min")
    axes.set_ylim(bottom=0)
    axes.legend()


def level_against_time(axes: "Axes", nominal: Arguments, burners: Arguments) -> None:
    """Level at the wicks through the schedule, as drawn and for a dozen burners as built."""
    for burner in range(TRACED):
        trace = feed_cycle_trace(
            **{name: one_burner(value, burner) for name, value in burners.items()}
        )
        axes.plot(trace.minutes, trace.level_at_wick, color="#0072B2", alpha=0.25, linewidth=0.6)
    trace = feed_cycle_trace(**nominal)
    axes.plot(trace.minutes, trace.level_at_wick, color="#0072B2", label="as drawn")
    axis = float(nominal["burner_height"])
    for height, colour, label in (
        (axis + float(nominal["wick_lip_height"]), "#D55E00", "wick lip"),
        (axis + 0.5 * float(nominal["pipe_bore"]), "#CC9A00", "crown of the pipe"),
    ):
        axes.axhline(height, color=colour, linestyle="--", linewidth=1.2, label=label)
    starts = np.cumsum(np.ravel(nominal["duration"]))[:-1]
    for start in starts:
        axes.axvline(float(start), color="#c9ced6", linewidth=0.6)
    axes.set_xlabel("time, min")
    axes.set_ylabel("level at the wicks, mm above the sump floor")
    axes.legend(loc="best")


def one_burner(value: Array, burner: int) -> Array:
    """Take one burner's value, or its values a step, of an argument."""
    array = np.asarray(value)
    if array.ndim == 0:
        return float(array)
    if array.ndim == 1:
        return float(array[burner])
    return np.asarray(array[:, min(burner, array.shape[1] - 1)])
