"""Figure of the lap: boiler pressure against time, as drawn and for a sample of burners."""

from typing import TYPE_CHECKING

import numpy as np

from models.boiler_run import boiler_run_trace
from models.figures import TRACED, Arguments, one_burner

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def pressure_against_time(axes: "Axes", nominal: Arguments, burners: Arguments) -> None:
    """Boiler pressure through the schedule, as drawn and for a dozen burners as built."""
    for burner in range(TRACED):
        one = {name: one_burner(value, burner) for name, value in burners.items()}
        trace = boiler_run_trace(**one)
        axes.plot(trace.minutes, trace.pressure, color="#0072B2", alpha=0.3, linewidth=0.7)
    trace = boiler_run_trace(**nominal)
    axes.plot(trace.minutes, trace.pressure, color="#0072B2", linewidth=1.8, label="as drawn")
    for pressure, colour, label in (
        (float(nominal["blow_off_pressure"]), "#D55E00", "safety valve"),
        (float(nominal["steam_raised"]), "#CC9A00", "steam raised"),
    ):
        axes.axhline(pressure, color=colour, linestyle="--", linewidth=1.2, label=label)
    duration = np.ravel(nominal["duration"])
    ends = np.cumsum(duration)
    for end in ends[:-1]:
        axes.axvline(float(end), color="#c9ced6", linewidth=0.6)
    turns = np.broadcast_to(np.ravel(nominal["revolutions"]), duration.shape)
    for start, end, rpm in zip(ends - duration, ends, turns, strict=True):
        if rpm > 0.0:
            axes.axvspan(float(start), float(end), color="#8a8f98", alpha=0.12, linewidth=0)
    axes.text(0.99, 0.02, "shaded: running", transform=axes.transAxes, ha="right", fontsize=8)
    axes.set_xlabel("time, min")
    axes.set_ylabel("boiler pressure, bar above the atmosphere")
    axes.set_ylim(bottom=0)
    axes.legend(loc="best")
