"""Calls that the fuzz makes up: each command, its options, and the files that it reads."""

from __future__ import annotations

import json
import random
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.fuzz_cases import (
    COLUMNS,
    DOUBTS,
    INCHES,
    INPUTS,
    OTHER_FILES,
    RESULTS,
    SMALL,
    Case,
    a_made_study,
    a_sized_value,
)
from tests.bench.fuzz_spoiling import a_text, spoilt, spoilt_table
from tests.strategies import TRIALS

MODEL_FILE = ("--model-file", "pins.py")
QUICKLY = ("--points", "64", "--replicates", "8", "--workers", "1", *MODEL_FILE)
SAMPLED = ("run", "measure", "tighten", "redraw", "window", "built", "learn", "compare")

READINGS = """\
# what was read
input,measured,instrument
hole,10.02 mm,pin_gauges_in_0_05_mm_steps
pin,9.81 mm,micrometer
"""
FILES = {
    "readings.csv": READINGS,
    "trials.toml": TRIALS,
    "values.csv": COLUMNS,
    "doubts.json": DOUBTS,
}


def a_call(rng: random.Random) -> Case:
    """Put a command to a study, sound or spoilt, with its options and files."""
    study = rng.choice(SMALL)
    if rng.random() < 0.2:
        study = spoilt(rng, study)
    elif rng.random() < 0.4:
        study = a_made_study(rng).text
    command = rng.choice((*SAMPLED, "check", "new", "models", "processes", "built", "learn"))
    words = [command, *_named(rng, command), *_asked(rng, command)]
    if command in SAMPLED:
        words += QUICKLY
    elif command != "processes":
        words += MODEL_FILE
    for _ in range(rng.choice((0, 0, 0, 0, 1, 2))):
        words += _option(rng)
    files = dict(OTHER_FILES)
    named = next((name for name in ("readings.csv", "trials.toml") if name in words), "")
    if named:
        files[named] = _file(rng, named)
    elif rng.random() < 0.2:
        other = rng.choice(("values.csv", "doubts.json"))
        files[other] = _file(rng, other)
        study = (
            INCHES
            if other == "values.csv"
            else study.replace("models", f'doubts = "{other}"\nmodels', 1)
        )
        named = other
    sort = {"readings.csv": "readings", "trials.toml": "trials", "values.csv": "values"}
    sort["doubts.json"] = "doubts"
    return Case(study, words=tuple(words), files=tuple(files.items()), sort=sort.get(named, "call"))


def _file(rng: random.Random, name: str) -> str:
    if rng.random() < 0.1:
        return FILES[name]
    return (spoilt if name.endswith(".toml") else spoilt_table)(rng, FILES[name])


def _named(rng: random.Random, command: str) -> list[str]:
    """What a command is put to."""
    if command == "new":
        return rng.choices(("pin_fit", "bolt", "rattle_heard", "wicks", "fuel_level", "é"), k=2)
    if command == "models":
        return rng.choice(([], ["pin_fit"], ["stepped_pipe"], ["pin_fits"], [a_text(rng)]))
    if command == "processes":
        return rng.choice(([], ["drill"], [a_text(rng)], ["drill", "hole"]))
    if command == "window":
        return ["study.toml", *rng.choices((*INPUTS, "x", "hole.one"), k=rng.choice((1, 1, 2, 3)))]
    if command == "compare":
        return ["study.toml", *rng.choices(("other.toml", "study.toml", "gone.toml"), k=1)]
    return ["study.toml"]


def _asked(rng: random.Random, command: str) -> list[str]:
    """Options of a command's own."""
    some = rng.random() < 0.5
    if command == "built":
        if some:
            return ["--readings", "readings.csv"]
        name = rng.choice((*INPUTS, *RESULTS))
        value = json.loads(_text_of(a_sized_value(rng, name, 0.3)))
        return ["--measured", f"{name}={value}", "--with", f"{name}={rng.choice(GAUGES)}"]
    if command == "learn":
        if some:
            return ["--trials", "trials.toml"]
        name = rng.choice((*INPUTS, *RESULTS))
        value = json.loads(_text_of(a_sized_value(rng, name, 0.3)))
        seen = rng.choice((f"{name}={value}", f"{name}=kept", f"{name}=broken", "it seizes", ""))
        return ["--seen", seen, *(["--at", f"warmth={value}"] if rng.random() < 0.4 else [])]
    if command == "window" and some:
        value = json.loads(_text_of(a_sized_value(rng, "hole", 0.3)))
        return [rng.choice(("--from", "--to", "--step")), value]
    if command == "new" and some:
        name = rng.choice((*INPUTS, "wick_count", "tank_diameter"))
        value = json.loads(_text_of(a_sized_value(rng, name, 0.3)))
        return ["--given", f"{name}={value}", "--out", rng.choice(("made.toml", "made.svg", "é"))]
    if command in ("measure", "tighten") and some:
        return ["--target", rng.choice(SHARES)]
    if command == "run" and some:
        return rng.choice(
            (["--pairs"], ["--totals"], ["--keep-samples"], ["--require-yield", "50"])
        )
    return []


def _text_of(value: str) -> str:
    """Give a value of TOML as JSON text, whatever it was."""
    return value if value.startswith('"') and value.endswith('"') else json.dumps(value)


GAUGES = ("steel_rule", "micrometer", "pin_gauges_in_0_05_mm_steps", "drill_shanks", "", "x")
SHARES = ("0.95", "95", "1", "0", "nan", "inf", "-1", "1e400", "x", "0.5", "100", "0.9999999999999")
OTHERS = tuple(
    tuple(line.split("|"))
    for line in """
--json
--quiet
--json|--quiet
--out|results
--out|.
--out|
--out|study.toml
--out|study.toml/x
--out|gone/x
--seed|-1
--seed|1
--seed|MANY
--points|3
--points|0
--points|MANY
--replicates|7
--replicates|MANY
--workers|0
--target|nan
--believe
--by-weights
--save-doubts|kept.json
--save-doubts|study.toml
--save-doubts|gone/kept.json
--save-doubts|/dev/zero
--units|inch
--given|x
--given|hole=
--given|hole=10 mm
--given|wick_count=0.5
--out|../made.toml/x
--save-doubts|.
--scheduler|
--kind|process
--model-file|study.toml
--model-file|gone.py
--readings|study.toml
--readings|/dev/zero
--trials|values.csv
--trials|/dev/zero
--nothing
--|-1
""".replace("MANY", "9" * 400)
    .strip()
    .splitlines()
)


def _option(rng: random.Random) -> list[str]:
    """Choose an option that a command has or has not, with a value that it takes or does not."""
    if rng.random() < 0.8:
        return list(rng.choice(OTHERS))
    name = rng.choice([words[0] for words in OTHERS])
    # An argument holds no zero, and what is no UTF-8 comes as a lone half of a pair.
    return [name, (a_text(rng) if rng.random() < 0.9 else "\udcff").replace("\x00", "")]
