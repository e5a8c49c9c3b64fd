"""What the fuzz makes up: studies, calls and the files they name, by a grammar and by mutation.

``a_study`` spoils a sound study, ``a_made_study`` writes one from nothing, mostly wrongly, and
``a_call`` puts a command with its options to one, with a file of readings, trials, values or
doubts where it takes one. Spoiling is the same for all of them (``fuzz_spoiling``).
"""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.fuzz_spoiling import (
    NUMBERS,
    SPELLINGS,
    a_text,
    a_value,
    spoilt,
    with_letters,
)
from tests.strategies import GOOD


class Case(NamedTuple):
    """A study's text, or a quantity and the unit that it is wanted in; a call's words and files.

    Without words it is read and checked, with ``READ`` read alone. ``expected`` is ``refused`` or
    ``answered`` where it is known; ``sort`` what it counts as.
    """

    text: str
    unit: str | None = None
    expected: str = ""
    words: tuple[str, ...] = ()
    files: tuple[tuple[str, str], ...] = ()
    sort: str = ""


READ = ("read",)
CHECKED = 0.1
"""Share of the studies that are checked, too, if they can be read: that takes far longer."""
UNITS = ("mm", "deg", "degC", "K", "ml/min", "Pa", "W", "", "min", "kg/m3")

# Most of what a study may say, said soundly, of the small models of the tests.
RICH = """\
title = "all that may be said"
models = ["pin_fit"]
[inputs.hole]
nominal = "10 mm"
plus_minus = "0.2 mm"
shape = "triangular"
basis = "made up"
group = "cutting"
adjust = ["9.9 mm", "10.2 mm"]
redraw = ["9.5 mm", "10.5 mm"]
redraw_sizes = "number drills"
blunder = "0.5 mm"
[inputs.pin]
nominal = "9.8 mm"
iso286 = "h9"
group = "cutting"
[inputs.depth]
nominal = "20 mm"
iso2768 = "m"
redraw = ["18 mm", "22 mm"]
redraw_step = "0.5 mm"
[inputs.warmth]
nominal = "20 degC"
between = ["5 degC", "40 degC"]
kind = "running"
[inputs.share]
nominal = 0.5
between = [0.4, 0.6]
shape = "trapezoidal"
flat = 0.3
kind = "running"
[inputs.tilt]
nominal = "0 deg"
standard_deviation = "0.1 deg"
kind = "model"
[inputs.flow]
nominal = "3 ml/min"
lognormal = 0.1
[[correlations]]
inputs = ["hole", "pin"]
rank = 0.5
because = "one drill"
[readings.play]
instrument = "micrometer"
at = { warmth = "20 degC" }
[limits.play]
at_least = "0.05 mm"
because = "a tight pin seizes"
hurts = true
ceiling = 0.2
[limits.lean]
at_most = "1.2 deg"
[sampling]
points = 64
replicates = 8
confidence = 0.9
"""
INCHES = """\
title = "in inches"
units = "inch"
models = ["pin_fit", "rattle_heard"]
[inputs.hole]
nominal = "25/64 in"
plus_minus = "2 thou"
[inputs.pin]
nominal = "0.386 in"
process = "turned_by_dial"
[inputs.damping]
nominal = 0.5
samples = "values.csv:share"
[limits.rattle]
at_most = "8 thou"
[sampling]
points = 64
replicates = 8
"""
SMALL = (GOOD, RICH, INCHES)

COLUMNS = "share;bore_mm;rough_mm\n" + "".join(
    f"0,{40 + n};{10 + n / 100};{9 + n % 3}\n".replace(".", ",") for n in range(24)
)
SPREAD = {
    "shape": "normal", "low": -0.30000000000000004, "high": 0.30000000000000004, "centre": 0.0,
    "scale": 0.1, "flat": 0.0, "values": [],
}  # fmt: skip
DOUBTS = json.dumps(
    {
        "doubts": 1,
        "trials": ["cold"],
        "names": ["tilt"],
        "stated": {"tilt": SPREAD},
        "mean": [0.1],
        "covariance": [[0.8]],
        "quantiles": {},
        "effective_rows": 900.0,
    },
    indent=1,
)
OTHER_FILES = (("values.csv", COLUMNS), ("doubts.json", DOUBTS), ("other.toml", GOOD))

# Input or result: its unit, and figures that are sane for it.
SANE = {
    "hole": ("mm", 9.9, 10.0, 10.3),
    "pin": ("mm", 9.7, 9.8, 9.85),
    "depth": ("mm", 15.0, 20.0, 30.0),
    "warmth": ("degC", 5.0, 20.0, 40.0),
    "tilt": ("deg", -1.0, 0.0, 0.5),
    "share": ("", 0.2, 0.5, 0.9),
    "flow": ("ml/min", 1.0, 3.0, 4.0),
    "damping": ("", 0.1, 0.5, 0.7),
    "length": ("mm", 5.0, 10.0, 20.0),
    "load": ("N", 50.0, 100.0, 200.0),
    "play": ("mm", -0.1, 0.05, 0.3),
    "lean": ("deg", 0.1, 0.5, 1.5),
    "leak": ("ml/min", 0.1, 1.0, 3.0),
    "rattle": ("um", 10.0, 100.0, 300.0),
    "stretch": ("mm", 1e-4, 1e-3, 1e-2),
}
OF_PIN = ("hole", "pin", "depth", "warmth", "tilt", "share", "flow")
TAKEN = {
    ("pin_fit",): (OF_PIN, ("play", "lean", "leak")),
    ("pin_fit", "rattle_heard"): ((*OF_PIN, "damping"), ("play", "lean", "leak", "rattle")),
    ("pin_fit", "bolt"): ((*OF_PIN, "length", "load"), ("play", "lean", "leak", "stretch")),
    ("bolt",): (("length", "load"), ("stretch",)),
}
INPUTS = (*OF_PIN, "damping", "length", "load")
RESULTS = ("play", "lean", "leak", "rattle", "stretch")


# What a wanted unit may be given in.
GIVEN_IN = {
    "mm": ("mm", "in", "thou", "cm", '"', "um"),
    "deg": ("deg", "°", "rad"),
    "degC": ("degC", "°C", "degF", "K"),
    "K": ("K", "degC"),
    "ml/min": ("ml/min", "l/h", "ml/s"),
    "Pa": ("Pa", "bar", "mbar", "psi", "mmH2O"),
    "W": ("W", "kW"),
    "": ("", "%", "1"),
    "min": ("min", "s", "h"),
    "kg/m3": ("kg/m3", "g/ml", "kg/m^3"),
}


def a_quantity(rng: random.Random) -> Case:
    """Put numbers, joints and units together: anyhow, or as one would and then spoilt or not."""
    unit = rng.choice(UNITS)
    if rng.random() < 0.5:
        return Case(a_text(rng), unit, sort="quantity")
    text = rng.choice(NUMBERS) + rng.choice(("", " ", " ")) + rng.choice(GIVEN_IN[unit])
    return Case(with_letters(rng, text, rng.choice((0, 0, 1))), unit, sort="quantity")


def a_study(rng: random.Random, bases: list[str]) -> Case:
    """Spoil a sound study in one to six places."""
    return Case(spoilt(rng, rng.choice(bases)), words=_how(rng), sort="study")


def a_made_study(rng: random.Random) -> Case:
    """Write a study from nothing: what may stand in it, in any number, some of it wrong."""
    wrong = rng.choice((0.0, 0.02, 0.1, 0.3))
    models = rng.choice(list(TAKEN))
    lines = [f'title = "{rng.choice(("", "made up", "é" * 40))}"', f"models = {json.dumps(models)}"]
    if rng.random() < 0.3:
        lines.append(rng.choice(('units = "inch"', 'unstated = "as declared"', 'units = "mm"')))
    if rng.random() < 0.05:
        lines.append('doubts = "doubts.json"')
    taken, given = TAKEN[models]
    stated = rng.sample(taken, rng.randrange(1, len(taken) + 1))
    if "length" in taken and rng.random() >= wrong:
        stated = list(dict.fromkeys([*stated, "length"]))  # it has no default
    for name in stated:
        name = rng.choice((*INPUTS, "é", "x.y")) if rng.random() < wrong else name
        lines += [f"[inputs.{name}]", *_statements(rng, name, wrong)]
    for name in rng.sample(given, rng.randrange(len(given) + 1)):
        lines.append(f"[limits.{name}]")
        for key in rng.sample(("at_least", "at_most"), rng.choice((1, 1, 2))):
            lines.append(f"{key} = {a_sized_value(rng, name, wrong)}")
    for _ in range(rng.choice((0, 0, 0, 1, 3))):
        pair = json.dumps(rng.choices(stated, k=2))
        rank = rng.choice((rng.uniform(-1, 1), 0.999999, -0.9, 0.0))
        lines += ["[[correlations]]", f"inputs = {pair}", f"rank = {rank!r}"]
    if rng.random() < 0.1:
        lines += [f"[readings.{rng.choice(given)}]", 'instrument = "steel_rule"']
    if rng.random() < wrong:
        lines += ["[[schedule]]", 'step = "one"', f"warmth = {a_sized_value(rng, 'warmth', wrong)}"]
    text = "\n".join(lines) + "\n"
    text = spoilt(rng, text) if rng.random() < wrong else text
    return Case(text, words=_how(rng), files=OTHER_FILES, sort="made study")


def a_large_study(rng: random.Random) -> Case:
    """Write far more of one thing than a study has, up to the size that is still read."""
    head = 'models = ["pin_fit"]\n'
    count = rng.choice((50, 100, 200, 400, 1500))
    piece = rng.choice(
        (
            '[inputs.x{n}]\nnominal = "{n} mm"\nplus_minus = "0.1 mm"\n',
            '[limits.x{n}]\nat_least = "{n} mm"\n',
            '[[correlations]]\ninputs = ["hole", "pin"]\nrank = 0.{n}\n',
            '[[schedule]]\nstep = "s{n}"\nwarmth = "{n} degC"\n',
            "[readings.x{n}]\nat = {{ warmth = '{n} degC' }}\n",
            'x{n} = "{n}"\n',
            "[inputs.hole.x{n}]\n",
            '"{n}é" = [{n}, [{n}, [{n}]]]\n',
            "[a{n}.b.c.d.e]\nx = 1e{n}\n",
        )
    )
    body = "".join(piece.format(n=n) for n in range(count))
    whole = head + body if rng.random() < 0.8 else GOOD + body
    whole = spoilt(rng, whole) if rng.random() < 0.3 else whole
    return Case(whole, words=READ, sort="large study")


def _how(rng: random.Random) -> tuple[str, ...]:
    return () if rng.random() < CHECKED else READ


def a_sized_value(rng: random.Random, name: str, wrong: float) -> str:
    """Write a value of an input or result: sane, or one time in so many of any size or sort."""
    unit, *figures = SANE.get(name, SANE["hole"])
    chance = rng.random() / wrong if wrong else 1.0
    if chance < 0.3:
        return a_value(rng)
    if chance < 0.6:
        return json.dumps(f"{rng.choice(NUMBERS)} {rng.choice(SPELLINGS)}")
    figure = rng.choice(figures)
    if chance < 1.0:
        figure = rng.choice((-1, 1)) * 10.0 ** rng.uniform(-310, 308)
    return json.dumps(f"{figure:.6g} {unit}".strip())


def _width(rng: random.Random, name: str, wrong: float) -> str:
    unit, *figures = SANE.get(name, SANE["hole"])
    if rng.random() < wrong:
        return a_sized_value(rng, name, 1.0)
    width = rng.choice((0.01, 0.1, 0.3, 1e-9)) * (max(figures) - min(figures))
    return json.dumps(f"{width:.6g} {'K' if unit == 'degC' else unit}".strip())


def _statements(rng: random.Random, name: str, wrong: float) -> list[str]:
    """Say how an input varies: in one way, or wrongly in several at once."""
    anyhow = rng.random() < wrong
    unit = SANE.get(name, SANE["hole"])[0]
    known = [key for key, units in WAYS.items() if anyhow or not units or unit in units]
    stated = rng.sample(known, 2 if anyhow else rng.choice((0, 1, 1, 1)))
    lines = [f"nominal = {a_sized_value(rng, name, wrong)}"] if rng.random() < 0.95 else []
    if name == "length" and not lines and not anyhow:
        lines = ['nominal = "10 mm"']
    if "measured" in stated and not anyhow:
        lines.append('instrument = "micrometer"')
    lines += [f"{key} = {SAID[key](rng, name, wrong)}" for key in stated]
    fitting = [
        key
        for key, (goes_with, units) in ABOUT.items()
        if anyhow or (goes_with & {*stated, ""} and (not units or unit in units))
    ]
    for key in rng.sample(fitting, min(rng.choice((0, 0, 1, 2, 4)), len(fitting))):
        lines.append(f"{key} = {SAID[key](rng, name, wrong)}")
        if key in ("redraw_step", "redraw_sizes") and not anyhow:
            lines.append(f"redraw = {_two(rng, name, wrong)}")
    return list(dict.fromkeys(lines))


Made = Callable[[random.Random, str, float], str]


def _one_of(*texts: str) -> Made:
    """Choose a text; the last is the wrong one."""

    def choose(rng: random.Random, _: str, wrong: float) -> str:
        return json.dumps(texts[-1] if rng.random() < wrong else rng.choice(texts[:-1]))

    return choose


def _two(rng: random.Random, name: str, wrong: float) -> str:
    if rng.random() < wrong:
        return f"[{a_sized_value(rng, name, wrong)}, {a_sized_value(rng, name, wrong)}]"
    unit, low, *_, high = SANE.get(name, SANE["hole"])
    return json.dumps([f"{low:.6g} {unit}".strip(), f"{high:.6g} {unit}".strip()])


def _share(rng: random.Random, _: str, wrong: float) -> str:
    if rng.random() < wrong:
        return rng.choice(("0", "0.0", "-1", "1e-300", "1.0000001", "1e300", "nan"))
    return repr(round(rng.uniform(0.05, 0.95), 3))


LENGTHS = frozenset(("mm",))
BOUNDED = frozenset(("plus_minus", "between"))
ALONE = frozenset(("",))
# How an input varies, and the units for which it may be said so; all where there are none.
WAYS: dict[str, frozenset[str]] = {
    "plus_minus": frozenset(),
    "between": frozenset(),
    "standard_deviation": frozenset(),
    "lognormal": frozenset(("mm", "ml/min", "N")),
    "iso286": LENGTHS,
    "iso2768": LENGTHS,
    "process": LENGTHS,
    "samples": LENGTHS,
    "measured": LENGTHS,
    "tube": frozenset(("none",)),
}
# What else may be said: beside which of these, and for which units.
ABOUT: dict[str, tuple[frozenset[str], frozenset[str]]] = {
    "shape": (BOUNDED, frozenset()),
    "coverage_factor": (frozenset(("none",)), frozenset()),
    "flat": (frozenset(("none",)), frozenset()),
    "leg": (frozenset(("none",)), frozenset()),
    "instrument": (frozenset(("none",)), frozenset()),
    "kind": (ALONE, frozenset(("degC", "deg", "", "ml/min"))),
    "group": (ALONE, frozenset()),
    "adjust": (ALONE, LENGTHS),
    "redraw": (ALONE, LENGTHS),
    "redraw_step": (ALONE, LENGTHS),
    "redraw_sizes": (ALONE, LENGTHS),
    "blunder": (ALONE, frozenset()),
    "basis": (ALONE, frozenset()),
}
SAID: dict[str, Made] = {
    "plus_minus": _width,
    "between": _two,
    "standard_deviation": _width,
    "lognormal": _share,
    "iso286": _one_of("H7", "h9", "js12", "JS6", "H99"),
    "iso2768": _one_of("f", "m", "c", "v", "x"),
    "process": _one_of("drilled_6_to_10_mm", "turned_by_dial", "parted_off", "squared_by_eye"),
    "samples": _one_of("values.csv:bore_mm", "values.csv:rough_mm", "values.csv:share"),
    "tube": _one_of("1/8 in x 22 SWG", "1/8 in x 0 SWG"),
    "measured": a_sized_value,
    "shape": _one_of("normal", "rectangular", "triangular", "arcsine", "log_uniform", "round"),
    "flat": _share,
    "coverage_factor": _share,
    "kind": _one_of("build", "running", "model", "x"),
    "group": _one_of("a", "b", "hole", ""),
    "adjust": _two,
    "redraw": _two,
    "redraw_step": _width,
    "redraw_sizes": _one_of("number drills", "letter drills", "fractional drills", "x"),
    "blunder": _one_of("1 in 50", "1 %", "0.5 mm"),
    "leg": a_sized_value,
    "instrument": _one_of("steel_rule", "micrometer", "drill_shanks", "x"),
    "basis": _one_of("made up", "judgement", ""),
}
