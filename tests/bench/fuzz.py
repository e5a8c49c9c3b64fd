"""Studies and quantities spoilt at random: each must be refused in words, or answered.

    python tests/bench/fuzz.py --seconds 600 --seed 7 --keep

First come the kept cases of ``tests/fuzz_corpus`` (one that once failed, a file), then new ones for
as long as is left. Counts are printed; the exit status is 1 where anything failed, that is raised
what is no error of our own, gave a number that is none, or ran away. ``--keep`` writes what fails,
cut down to the lines that matter, to the corpus.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import random
import signal
import string
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).resolve().parents[1]
CORPUS = HERE / "fuzz_corpus"
STUDIES = HERE.parent / "studies" / "bramble"

RUNS_AWAY, BLOCKED = 10.0, 120.0
"""Seconds of the processor after which a case has run away (what is promised is 2), and by the
clock after which it waits for something that does not come."""

SLOW = {"feed_cycle", "blower_jet"}
"""Models of the demo studies whose worst case takes seconds as they are: such are read alone."""


class Case(NamedTuple):
    """A study's text, or a quantity and the unit that it is wanted in."""

    text: str
    unit: str | None = None
    expected: str = ""


class RanAway(BaseException):
    """A case that did not end."""


# --- judging ------------------------------------------------------------------------------------


def judge(case: Case) -> str:
    """Read a case, and check a study that can be read: ``refused`` or ``answered``.

    Raises
    ------
    Exception
        Whatever is wrong with the program: an error that is not our own, a number that is none.
    """
    found = _judge_study(case.text) if case.unit is None else _judge_quantity(case.text, case.unit)
    if case.expected and found != case.expected:
        raise AssertionError(f"{found}, and should be {case.expected}")
    return found


def _judge_quantity(text: str, unit: str) -> str:
    from sensitivity.errors import QuantityError
    from sensitivity.quantities.quantity import read_quantity

    try:
        value = read_quantity(text, unit)
    except QuantityError as error:
        return _refused(error)
    assert isinstance(value, float), f"{value!r} is no float"
    assert math.isfinite(value), f"{value} is no quantity"
    return "answered"


def _refused(error: Exception) -> str:
    if not str(error):
        raise AssertionError("a refusal without words")
    return "refused"


def _judge_study(text: str) -> str:
    from typer.testing import CliRunner

    from sensitivity.command_line.app import app
    from sensitivity.errors import SpiritlevelError
    from sensitivity.study.file import read_study

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "study.toml"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        try:
            study = read_study(path)
        except SpiritlevelError as error:
            return _refused(error)
        if SLOW & {model.name for model in study.system.models}:
            return "answered"
        done = CliRunner().invoke(app, ["check", str(path)], catch_exceptions=False)
    assert done.exit_code in (0, 2), f"exit status {done.exit_code}: {done.stderr}"
    return "answered" if done.exit_code == 0 else "refused"


@contextmanager
def within(seconds: float) -> Iterator[None]:
    """End what takes longer."""

    def end(*_: object) -> None:
        raise RanAway(f"not done after {seconds:g} s")

    timers = ((signal.ITIMER_PROF, seconds), (signal.ITIMER_REAL, BLOCKED))
    before = [signal.signal(number, end) for number in (signal.SIGPROF, signal.SIGALRM)]
    try:
        for timer, length in timers:
            signal.setitimer(timer, length)
        yield
    finally:
        for timer, _ in timers:
            signal.setitimer(timer, 0)
        for number, handler in zip((signal.SIGPROF, signal.SIGALRM), before, strict=True):
            signal.signal(number, handler)


def fault(case: Case, seconds: float = RUNS_AWAY) -> str:
    """Say what is wrong with how a case is met; empty where nothing is."""
    start = time.process_time()
    why = ""
    try:
        with within(seconds):
            judge(case)
    except (Exception, RanAway, SystemExit) as error:
        why = f"{type(error).__name__}: {error}".split("\n")[0][:200]
    if time.process_time() - start > seconds:  # whoever took the end for an error of a model's
        return f"{RanAway.__name__}: not done after {seconds:g} s"
    return why


# --- the corpus ---------------------------------------------------------------------------------


def read_case(path: Path) -> Case:
    """Read a kept case: JSON for a quantity, TOML for a study, ``# refused`` its first line."""
    text = path.read_bytes().decode("utf-8", "surrogatepass")
    if path.suffix == ".json":
        return Case(**json.loads(text))
    first = text.partition("\n")[0].removeprefix("# ").strip()
    return Case(text, expected=first if first in ("refused", "answered") else "")


def corpus() -> list[Path]:
    """The kept cases."""
    return sorted(path for path in CORPUS.iterdir() if path.suffix in (".json", ".toml"))


def keep(case: Case, why: str) -> Path:
    """Write a case to the corpus under a name of its content."""
    name = hashlib.sha256(case.text.encode("utf-8", "surrogatepass")).hexdigest()[:12]
    if case.unit is None:
        path = CORPUS / f"study_{name}.toml"
        path.write_bytes(case.text.encode("utf-8", "surrogatepass"))
    else:
        path = CORPUS / f"quantity_{name}.json"
        path.write_text(json.dumps({"unit": case.unit, "text": case.text}) + "\n")
    print(f"kept as {path.name}: {why}")
    return path


def cut_down(case: Case, why: str) -> Case:
    """Leave out lines of a study, or letters of a quantity, as long as it fails alike."""
    kind = why.partition(":")[0]
    if kind == RanAway.__name__:
        return case  # it would take as long again for every line
    parts = case.text.splitlines(keepends=True) if case.unit is None else list(case.text)
    place = 0
    while place < len(parts) and len(parts) > 1:
        fewer = [*parts[:place], *parts[place + 1 :]]
        if fault(case._replace(text="".join(fewer))).partition(":")[0] == kind:
            parts = fewer
        else:
            place += 1
    return case._replace(text="".join(parts))


# --- spoiling -----------------------------------------------------------------------------------

UNITS = ("mm", "deg", "degC", "K", "ml/min", "Pa", "W", "", "min", "kg/m3")
JOINTS = ("", " ", "  ", "\t", "\u00a0", "\u2009", "*", "/", "^", "·", "\n", "\x00")
LETTERS = string.printable + "°µ²½×−″\u202e\u200b\ufeff\x00\x1b\U0001f525é０"


def _parts(text: str) -> list[str]:
    return text.strip().replace("\n", "|").split("|")


SPELLINGS = _parts("""
mm|cm|m|in|inch|inches|thou|mil|um|ft|deg|rad|°|degC|°C|degF|K|Pa|kPa|bar|mbar|psi|W|kW|ml|l|cm3
mm3|ml/min|l/h|g/min|kg|g|s|min|h|%|‰|1|turn|rpm|mmH2O|inH2O|N|kJ/kg|in²|"|'|″|km/h|mm2|mm^2
MM|IN|Thou|in.|”|''|deg C|SWG|swg|AWG|gauge|BA|BA tapping|x 40 ME clearance|drill|x 22 SWG|×
""")
NUMBERS = _parts("""
0|1|-1|+1|10|0.5|.5|5.|1e3|1e-9|1e400|-1e400|1e-400|nan|inf|-inf|1/2|1/0|0/1|3/-4|1_000|1,5|1.2.3
1e|0x10|007|9/8|5/32|1-1/2|1/2/3|½|１２|٣|−5|–|∞|1e+|9999999999999999999999|1 1/2|1 9/8|1  2|- 1
1½|⅞|22|60|7/0|No. 60|#60|No. 81|letter F|F|swg 22|1:50|1 : 0|1,500|±|± 2|+/- 2|ø3|№ 5|1⁄8
""")
NUMBERS.append("1" * 400)
VALUES = _parts("""
3|-1|0|0.25|1e400|-1e-320|inf|-inf|nan|true|1979-05-27|07:32:00|""|[]|{}|[[]]|0x1F|"10 mm"|"0 mm"
"-1 mm"|"5/0 in"|"nan mm"|"1 K"|"20 degC"|"-400 degC"|"50 %"|"x"|"H11"|"h9"|"m"|"normal"|"arcsine"
"triangular"|"build"|"steel_rule"|"log_uniform"|["8 mm", "13 mm"]|["13 mm", "8 mm"]|["1 mm"]
["a", "a"]|{ nominal = 3 }|"nowhere.csv:x_mm"|"../../a.csv:x"|"/dev/zero:x"|"\\u202e"|"\\u0000"
{ nominal = "10 mm", plus_minus = "1 mm" }|9223372036854775808
""")
VALUES.append("[" * 40 + "]" * 40)
WORDS = _parts("""
title|models|inputs|limits|correlations|sampling|schedule|nominal|plus_minus|between|shape|kind
seed|points|replicates|confidence|rank|at_least|at_most|group|adjust|basis|because|flat|mode|step
standard_deviation|lognormal|iso286|iso2768|process|samples|measured|instrument|coverage_factor
target_half_width|max_replicates|keeps|units|readings|hurts|redraw
""")


def a_quantity(rng: random.Random) -> Case:
    """Put numbers, joints and units together, mostly wrongly."""
    parts = []
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        parts += [rng.choice(NUMBERS), rng.choice(JOINTS), rng.choice(SPELLINGS)]
        parts.append(rng.choice((*JOINTS, "", "", "")))
    text = "".join(parts)
    for _ in range(rng.choice((0, 0, 1, 2, 4))):
        place = rng.randrange(len(text) + 1)
        text = text[:place] + rng.choice(LETTERS) + text[place + rng.randrange(2) :]
    return Case(text, rng.choice(UNITS))


def a_study(rng: random.Random, bases: list[str]) -> Case:
    """Spoil a sound study in one to six places."""
    lines = rng.choice(bases).split("\n")
    for _ in range(rng.choice((1, 1, 2, 3, 6))):
        rng.choice(SPOILERS)(rng, lines)
        if not lines:
            break
    return Case("\n".join(lines))


def _another_value(rng: random.Random, lines: list[str]) -> None:
    place = _at(rng, lines, "=")
    lines[place] = f"{lines[place].partition('=')[0]}= {_value(rng)}"


def _another_key(rng: random.Random, lines: list[str]) -> None:
    place = _at(rng, lines, "=")
    lines[place] = f"{rng.choice(WORDS)} ={lines[place].partition('=')[2]}"


def _one_more_key(rng: random.Random, lines: list[str]) -> None:
    lines.insert(rng.randrange(len(lines) + 1), f"{rng.choice(WORDS)} = {_value(rng)}")


def _another_table(rng: random.Random, lines: list[str]) -> None:
    name = ".".join(
        rng.choice([*WORDS, "x", '""', '"a b"', "é"]) for _ in range(rng.choice((1, 2, 3)))
    )
    lines.insert(rng.randrange(len(lines) + 1), rng.choice((f"[{name}]", f"[[{name}]]")))


def _lost(rng: random.Random, lines: list[str]) -> None:
    del lines[rng.randrange(len(lines))]


def _doubled(rng: random.Random, lines: list[str]) -> None:
    place = rng.randrange(len(lines))
    lines.insert(place, lines[place])


def _swapped(rng: random.Random, lines: list[str]) -> None:
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]


def _letters(rng: random.Random, lines: list[str]) -> None:
    place = rng.randrange(len(lines))
    cut = rng.randrange(len(lines[place]) + 1)
    some = "".join(rng.choice(LETTERS) for _ in range(rng.choice((1, 1, 3))))
    lines[place] = lines[place][:cut] + some + lines[place][cut + rng.randrange(3) :]


def _repeated(rng: random.Random, lines: list[str]) -> None:
    place = rng.randrange(len(lines))
    lines[place] += rng.choice(("a.", "[", "{x=", " ", '"', "a = ", "'", "#", "\\")) * rng.choice(
        (50, 500, 2000)
    )


def _at(rng: random.Random, lines: list[str], sign: str) -> int:
    return rng.choice([n for n, line in enumerate(lines) if sign in line] or range(len(lines)))


def _value(rng: random.Random) -> str:
    if rng.random() < 0.3:
        return json.dumps(a_quantity(rng).text)
    return rng.choice(VALUES)


SPOILERS: tuple[Callable[[random.Random, list[str]], None], ...] = (
    *(_another_value,) * 4, _another_key, _one_more_key, _another_table, _lost, _doubled,
    _swapped, _letters, _repeated,
)  # fmt: skip


# --- the command --------------------------------------------------------------------------------


def main() -> int:
    """Run the kept cases and new ones; 1 where any failed."""
    asked = argparse.ArgumentParser(description="Studies and quantities spoilt at random.")
    asked.add_argument("--seconds", type=float, default=30.0, help="for new cases, 0 for none")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--keep", action="store_true", help="write what fails to the corpus")
    options = asked.parse_args()
    counts: Counter[str] = Counter()
    slowest, faults = (0.0, ""), []

    def met(case: Case, named: str) -> str:
        nonlocal slowest
        start = time.process_time()
        why = fault(case)
        slowest = max(slowest, (time.process_time() - start, named))
        counts["study" if case.unit is None else "quantity", "failed" if why else "met"] += 1
        if why:
            faults.append(f"{named}: {why}")
            print(f"FAILED {faults[-1]}", flush=True)
        return why

    for path in corpus():
        met(read_case(path), path.name)
    kept = counts.total()
    rng = random.Random(options.seed)
    bases = [path.read_text(encoding="utf-8") for path in sorted(STUDIES.glob("*.toml"))]
    ends = time.monotonic() + options.seconds
    seen: set[str] = set()
    while time.monotonic() < ends:
        # A study takes as long as a hundred quantities.
        for case in [a_study(rng, bases), *(a_quantity(rng) for _ in range(100))]:
            why = met(case, f"seed {options.seed}, {case.text[:60]!a}")
            if why and options.keep and why not in seen:
                keep(cut_down(case, why), why)
            seen.add(why)
    print(f"{kept} kept cases, {counts.total() - kept} new ones with seed {options.seed}:")
    for (sort, how), count in sorted(counts.items()):
        print(f"  {sort:9}{how:7}{count:8,}")
    print(f"  slowest {slowest[0]:.2f} s of the processor: {slowest[1]}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
