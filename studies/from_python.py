"""A worked example of spiritlevel in Python: cells for a notebook, a script that runs as it is.

Bramble is an invented engine, and every number here is made up for the demonstration.
"""

from pathlib import Path
from typing import Annotated, NamedTuple

import numpy as np
from numpy.typing import NDArray

import sensitivity as sl

# %% A study from its file: how many burners work, what decides it, the burners themselves

options = sl.RunOptions(seed=1, replicates=8, points=256)
study = sl.read_study(Path(__file__).parent / "bramble" / "stepped_pipe.toml")
run = sl.run(study, options=options)
print(run.verdict)
print(run.sensitivity("flood_margin").head(3).round(2))
print(run.samples[["outlet_tilt", "flood_margin"]].describe().round(2))

# %% Where to set the breather, and what closer work buys
window = sl.window(study, "breather_height", options=options)
print(window.verdict)
print(sl.tighten(study, options=options).tables()["halved"].head(3))

# %% A study built here, of a function of one's own: a cap over a breather tube
Array = NDArray[np.float64] | float


class Fit(NamedTuple):
    """What the model gives."""

    clearance: Annotated[Array, "mm", "bore of the cap less the tube's outside"]


def cap_on_tube(
    cap_bore: Annotated[Array, "mm", "bore of the cap", "> 0"] = 6.1,
    tube_outside: Annotated[Array, "mm", "outside of the tube", "> 0"] = 6.0,
) -> Fit:
    """Clearance of a cap on a tube: the difference of two diameters."""
    return Fit(cap_bore - tube_outside)


cap = sl.Study(
    models=[cap_on_tube],
    inputs={
        "cap_bore": sl.normal("6.1 mm", plus_minus="0.08 mm", basis="reamed; invented"),
        "tube_outside": sl.rectangular("6 mm", plus_minus="0.05 mm", basis="bought; invented"),
    },
    limits=[sl.limit("clearance", at_least="0.02 mm", at_most="0.2 mm", because="slides, seals")],
)
fits = sl.run(cap, options=options)
print(fits.overall)
print(fits.to_dict()["verdict"])
