"""Figures of the models: plain functions from a design and a sample of burners to axes.

``nominal`` holds a model's arguments as numbers, ``burners`` the same arguments as arrays (n,)
over a sample of burners. A band is where the middle 90 % of the burners lie.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from models.arrays import Array
from models.firebox_heat import firebox_heat
from models.orifice_flow import needle_valve

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Arguments = Mapping[str, Array]

SETTINGS = 41
"""Settings along the axis of a figure."""


def _swept(arguments: Arguments, name: str, settings: Array) -> dict[str, Array]:
    """Give each argument the burners' axis behind the settings' axis: (m, n)."""
    burners = {key: np.asarray(value)[None, ...] for key, value in arguments.items()}
    return {**burners, name: np.asarray(settings)[:, None]}


def _band(axes: "Axes", settings: Array, values: Array, colour: str, label: str) -> None:
    """Draw the median over the burners (m, n) as a line, and their middle 90 % as a band."""
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
    up_the_chimney = released * heat.burnt_fraction - heat.heat_to_boiler
    for values, colour, label in (
        (heat.heat_firebox, "#D55E00", "to the firebox"),
        (heat.heat_tubes, "#0072B2", "to the tubes"),
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
