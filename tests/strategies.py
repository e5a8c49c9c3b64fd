"""A small model, a good study of it, and the hypothesis strategies that several tests share."""

import string

from hypothesis import strategies as st

from sensitivity.spreads.spread import bounded, empirical, lognormal, normal

MODELS = '''
"""A pin in a hole, what is heard of it, and a bolt: models of three sorts of signature."""

from typing import Annotated, NamedTuple

import numpy as np


class PinFit(NamedTuple):
    play: Annotated[float, "mm", "hole less pin"]
    lean: Annotated[float, "deg", "furthest that the pin leans"]
    leak: Annotated[float, "ml/min", "what passes the pin"]


def pin_fit(
    hole: Annotated[float, "mm", "bore of the hole", "> 0", "read as bore"] = 10.0,
    pin: Annotated[float, "mm", "diameter of the pin", "> 0"] = 9.8,
    depth: Annotated[float, "mm", "depth of the hole", "> 0", "read as depth"] = 20.0,
    warmth: Annotated[float, "degC", "temperature of the block"] = 20.0,
    tilt: Annotated[float, "deg", "lean of the hole itself"] = 0.0,
    share: Annotated[float, "", "share of the gap that is open", "0..1"] = 0.5,
    flow: Annotated[float, "ml/min", "flow through an open hole", ">= 0"] = 3.0,
) -> PinFit:
    """Play and lean of a pin in a hole.

    Plain geometry; the block grows by 1.7e-5 of its size a kelvin.
    """
    play = hole * (1.0 + 1.7e-5 * (warmth - 20.0)) - pin
    return PinFit(play, np.rad2deg(np.arctan2(play, depth)) + tilt, flow * share + 0.0 * play)


class Rattle(NamedTuple):
    rattle: Annotated[float, "um", "play that is heard"]


def rattle_heard(
    play: Annotated[float, "um", "play of the pin"] = 200.0,
    damping: Annotated[float, "", "share that the oil takes", "0..1"] = 0.5,
) -> Rattle:
    """Play that is heard through oil."""
    return Rattle(play * (1.0 - damping))


class Bolt(NamedTuple):
    stretch: Annotated[float, "mm", "stretch under load"]


def bolt(
    length: Annotated[float, "mm", "free length", "> 0"],
    load: Annotated[float, "N", "load"] = 100.0,
) -> Bolt:
    """Stretch of a bolt; its length has no default."""
    return Bolt(length * load * 1e-6)


def _not_a_model(size: Annotated[float, "mm", "size"]) -> Bolt:
    raise AssertionError("private")


def helper(x):
    return x
'''

GOOD = """\
title  = "A pin in a hole"
models = ["pin_fit"]

[inputs.hole]
nominal    = "10 mm"
plus_minus = "0.2 mm"
basis      = "drilled"

[inputs.pin]
nominal    = "9.8 mm"
plus_minus = "0.1 mm"
shape      = "normal"
kind       = "build"
basis      = "turned by dial"

[inputs.warmth]
nominal = "20 degC"
between = ["5 degC", "40 degC"]
kind    = "running"

[inputs.tilt]
nominal            = "0 deg"
standard_deviation = "0.1 deg"
kind               = "model"

[limits.play]
at_least = "0.05 mm"
because  = "a tight pin seizes"

[limits.lean]
at_most = "1.2 deg"
because = "a leaning pin wears"

[sampling]
seed       = 1
replicates = 8
points     = 64
"""

TRIALS = """\
# Two trials of one pin.

[[trials]]
title  = "cold"
warmth = "10 degC"
seen   = { play = "kept", hole = { value = "10.03 mm", instrument = "drill_shanks" } }

[[trials]]
title      = "warm"
identifier = "the second"
warmth     = "95 degF"
seen       = { lean = "broken", leak = { value = "1.5 ml/min", plus_minus = "0.2 ml/min" } }
"""

QUICK = "\n[sampling]\nseed = 1\nreplicates = 8\npoints = 64\n"


def spreads():
    """Spreads of every shape, of sane figures."""
    low = st.floats(-50.0, 50.0)
    width = st.floats(0.01, 20.0)
    share = st.floats(0.0, 1.0)
    return st.one_of(
        st.builds(normal, low, width),
        st.builds(lognormal, st.floats(0.1, 50.0), st.floats(0.01, 1.0)),
        st.builds(lambda a, w, s: bounded("rectangular", a, a + w), low, width, share),
        st.builds(
            lambda a, w, s: bounded("triangular", a, a + w, mode=a + s * w), low, width, share
        ),
        st.builds(lambda a, w, s: bounded("arcsine", a, a + w), low, width, share),
        st.builds(lambda a, w, s: bounded("trapezoidal", a, a + w, flat=s), low, width, share),
        st.builds(lambda a, w: bounded("log_uniform", a, a + w), st.floats(0.1, 50.0), width),
        st.builds(
            empirical,
            st.lists(
                st.floats(-20.0, 20.0), min_size=5, max_size=20, unique_by=lambda v: round(v, 2)
            ),
        ),
    )


def probabilities(size=9):
    """Sorted probabilities inside 0..1 that differ by a thousandth or more."""
    return st.lists(st.integers(1, 999), min_size=size, max_size=size, unique=True).map(
        lambda parts: [part / 1000.0 for part in sorted(parts)]
    )


bare_keys = st.text(string.ascii_lowercase + string.digits + "_-", min_size=1, max_size=8)
"""Keys that TOML takes without quotes."""


def toml_values():
    """TOML values as text, of every sort and often the wrong one."""
    words = st.text(string.printable.replace("\r", ""), max_size=12)
    quoted = words.map(
        lambda text: (
            '"'
            + text.replace("\\", "\\\\")
            .replace('"', '\\"')
            .replace("\n", "\\n")
            .replace("\t", "\\t")
            .replace("\x0b", "")
            .replace("\x0c", "")
            + '"'
        )
    )
    plain = st.sampled_from(
        [
            "3", "-1", "0", "0.25", "1e400", "-1e-320", "inf", "-inf", "nan", "true", "1979-05-27",
            '"10 mm"', '"-0.2 mm"', '"0 mm"', '"5/0 in"', '"1e999 mm"', '"inf mm"', '"5 K"',
            '"20 degC"', '"-400 degC"', '"90 furlong"', '"12 %"', '""', '"H11"', '"m"', '"normal"',
            '"triangular"', '"arcsine"', '"log_uniform"', '"build"', '"steel_rule"',
            '"nowhere.csv:hole_mm"', '["8 mm", "13 mm"]', '["13 mm", "8 mm"]', '["1 mm"]',
            '["hole", "hole"]', '["hole", "pin"]', "[[]]", "{}", "{ nominal = 3 }", '"pin_fit"',
            '["pin_fit"]', '["pin_fit", "rattle_heard"]', '["bolt"]', "64", "100", "8",
        ]
    )  # fmt: skip
    return st.one_of(plain, plain, quoted)


@st.composite
def toml_texts(draw):
    """Text that looks like a study and mostly is TOML, with keys that may belong anywhere."""
    names = st.sampled_from(
        [
            "title", "models", "inputs", "limits", "correlations", "sampling", "schedule", "hole",
            "pin", "warmth", "play", "nominal", "plus_minus", "between", "shape", "kind", "seed",
            "points", "replicates", "confidence", "rank", "at_least", "at_most", "group", "adjust",
        ]
    )  # fmt: skip
    keys = st.one_of(names, names, bare_keys)
    lines = []
    for _ in range(draw(st.integers(0, 12))):
        sort = draw(st.sampled_from(["key", "key", "key", "table", "tables", "comment", "junk"]))
        if sort == "key":
            lines.append(f"{draw(keys)} = {draw(toml_values())}")
        elif sort == "table":
            lines.append(f"[{'.'.join(draw(st.lists(keys, min_size=1, max_size=3)))}]")
        elif sort == "tables":
            lines.append(f"[[{draw(keys)}]]")
        elif sort == "comment":
            lines.append(f"# {draw(bare_keys)}")
        else:
            lines.append(draw(st.text(max_size=10)))
    return "\n".join(lines) + draw(st.sampled_from(["", "\n"]))


@st.composite
def mutated_studies(draw, study=GOOD):
    """A good study with one to four changes: lines lost, doubled, swapped, values replaced."""
    lines = study.splitlines()
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(lines) - 1))
        change = draw(
            st.sampled_from(
                ["value", "value", "value", "value", "lose", "double", "swap", "letters"]
            )
        )
        if change == "value" and "=" in lines[place]:
            lines[place] = f"{lines[place].partition('=')[0]}= {draw(toml_values())}"
        elif change == "lose" and len(lines) > 1:
            del lines[place]
        elif change == "double":
            lines.insert(place, lines[place])
        elif change == "swap":
            other = draw(st.integers(0, len(lines) - 1))
            lines[place], lines[other] = lines[other], lines[place]
        elif change == "letters":
            cut = draw(st.integers(0, len(lines[place])))
            lines[place] = lines[place][:cut] + draw(st.text(max_size=3)) + lines[place][cut + 1 :]
    return "\n".join(lines) + "\n"
