"""Studies and quantities spoilt at random: each must be refused in words, or answered.

    python tests/bench/fuzz.py --seconds 600 --seed 7 --keep
    python tests/bench/fuzz.py --studies 100000 --quantities 100000

First come the kept cases of ``tests/fuzz_corpus`` (one that once failed, a file), then new ones for
as long or as many as is said: studies, spoilt or made up; quantities; and calls of all commands
with their files. Counts are printed; the exit status is 1 where anything failed, that is raised
what is no error of our own, gave a number that is none, left a file where none should be, ran away,
or took more than is promised before it was refused. ``--keep`` writes what fails, cut down to the
lines that matter, to the corpus.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import random
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.fuzz_calls import a_call
from tests.bench.fuzz_cases import (
    READ,
    SMALL,
    Case,
    a_large_study,
    a_made_study,
    a_quantity,
    a_study,
)
from tests.bench.fuzz_judging import Met, RanAway, fault, met

HERE = Path(__file__).resolve().parents[1]
CORPUS = HERE / "fuzz_corpus"
STUDIES = HERE.parent / "studies" / "bramble"

# --- the corpus ---------------------------------------------------------------------------------


def read_case(path: Path) -> Case:
    """Read a kept case: JSON for a quantity, TOML for a study, ``# refused`` its first line."""
    text = path.read_bytes().decode("utf-8", "surrogatepass")
    if path.suffix == ".json":
        kept = json.loads(text)
        words, files = tuple(kept.pop("words", ())), tuple(kept.pop("files", {}).items())
        return Case(**kept, words=words, files=files)
    first = text.partition("\n")[0].removeprefix("# ").strip()
    return Case(text, expected=first if first in ("refused", "answered") else "")


def corpus() -> list[Path]:
    """The kept cases."""
    return sorted(path for path in CORPUS.iterdir() if path.suffix in (".json", ".toml"))


def keep(case: Case, why: str) -> Path:
    """Write a case to the corpus under a name of its content."""
    name = hashlib.sha256(repr(case).encode("utf-8", "surrogatepass")).hexdigest()[:12]
    if case.unit is not None:
        path = CORPUS / f"quantity_{name}.json"
        path.write_text(json.dumps({"unit": case.unit, "text": case.text}) + "\n")
    elif case.files or case.words not in ((), READ):
        path = CORPUS / f"call_{name}.json"
        content = {"words": case.words, "text": case.text, "files": dict(case.files)}
        path.write_text(json.dumps(content, indent=1) + "\n")
    else:
        path = CORPUS / f"study_{name}.toml"
        path.write_bytes(case.text.encode("utf-8", "surrogatepass"))
    print(f"kept as {path.name}: {why}")
    return path


def cut_down(case: Case, why: str) -> Case:
    """Leave out lines of a study and its files, or letters of a quantity, while it fails alike."""
    kind = why.partition(":")[0]
    if kind == RanAway.__name__:
        return case  # it would take as long again for every line

    def fails(fewer: Case) -> bool:
        return fault(fewer).partition(":")[0] == kind

    for name, _ in case.files:
        fewer = case._replace(files=tuple(one for one in case.files if one[0] != name))
        case = fewer if fails(fewer) else case
    case = case._replace(text=_shortened(case.text, lambda t: fails(case._replace(text=t)), case))
    for name, text in case.files:

        def put(new: str, name: str = name, case: Case = case) -> Case:
            return case._replace(files=tuple({**dict(case.files), name: new}.items()))

        case = put(_shortened(text, lambda t, put=put: fails(put(t)), case))
    return case


def _shortened(text: str, fails: Callable[[str], bool], case: Case) -> str:
    parts = text.splitlines(keepends=True) if case.unit is None else list(text)
    place = 0
    while place < len(parts) and len(parts) > 1:
        fewer = [*parts[:place], *parts[place + 1 :]]
        if fails("".join(fewer)):
            parts = fewer
        else:
            place += 1
    return "".join(parts)


# --- the command --------------------------------------------------------------------------------

CALLS = 0.1
"""Share of calls among the studies, unless it is said: they take longest."""
LARGE = 0.02
"""Share of studies larger than any should be."""

MOST_TOLD = 5
"""Cases of one and the same fault that are told."""


@dataclass
class Tally:
    """What one sort of case came to."""

    tried: int = 0
    refused: int = 0
    wrong: int = 0
    slowest: tuple[float, str] = (0.0, "")
    slowest_refusal: float = 0.0
    largest_refusal: float = 0.0

    def count(self, case: Case, found: Met) -> None:
        """Count one case."""
        self.tried += 1
        self.wrong += bool(found.why)
        self.slowest = max(self.slowest, (found.seconds, f"{case.words} {case.text[:60]!a}"))
        if found.how == "refused":
            self.refused += 1
            self.slowest_refusal = max(self.slowest_refusal, found.seconds)
            self.largest_refusal = max(self.largest_refusal, found.mebibytes)


def some_cases(
    rng: random.Random, studies: int, quantities: int, calls: float = CALLS
) -> Iterator[Case]:
    """Make cases up; a share of the studies are calls, and some larger than any should be."""
    bases = [path.read_text(encoding="utf-8") for path in sorted(STUDIES.glob("*.toml"))]
    bases += SMALL * 4
    made = 0
    for number in range(max(studies, 1)):
        if studies:
            chance = rng.random()
            if chance < calls:
                yield a_call(rng)
            elif chance < calls + LARGE:
                yield a_large_study(rng)
            else:
                yield a_made_study(rng) if chance < 0.5 else a_study(rng, bases)
        due = quantities * (number + 1) // max(studies, 1)
        for _ in range(due - made):
            yield a_quantity(rng)
        made = due


def main() -> int:
    """Run the kept cases and new ones; 1 where any failed."""
    asked = argparse.ArgumentParser(description="Studies and quantities spoilt at random.")
    asked.add_argument("--seconds", type=float, help="for new cases, 0 for none; 30 unless counted")
    asked.add_argument("--studies", type=int, default=0, help="how many, calls among them")
    asked.add_argument("--quantities", type=int, default=0, help="how many")
    asked.add_argument("--calls", type=float, default=CALLS, help="share of calls among studies")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--keep", action="store_true", help="write what fails to the corpus")
    options = asked.parse_args()
    counted = options.studies or options.quantities
    seconds = options.seconds if options.seconds is not None else math.inf if counted else 30.0
    # Where the clock decides a study takes as long as fifty quantities.
    studies, quantities = (options.studies, options.quantities) if counted else (10**9, 50 * 10**9)
    tallies: dict[str, Tally] = {}
    told: dict[str, int] = {}

    def meet(case: Case, sort: str, named: str) -> None:
        found = met(case)
        tallies.setdefault(sort, Tally()).count(case, found)
        if not found.why:
            return
        kind = found.why[:60]
        told[kind] = told.get(kind, 0) + 1
        if told[kind] <= MOST_TOLD:
            print(f"FAILED {named} {case.words}: {found.why}", flush=True)
        if options.keep and told[kind] == 1:
            keep(cut_down(case, found.why), found.why)

    for path in corpus():
        meet(read_case(path), "kept", path.name)
    ends = time.monotonic() + seconds
    made = some_cases(random.Random(options.seed), studies, quantities, options.calls)
    for case in made:
        if time.monotonic() > ends:
            break
        meet(case, case.sort, f"seed {options.seed}, {case.text[:60]!a}")
    _tell(tallies, options.seed)
    return 1 if told else 0


def _tell(tallies: dict[str, Tally], seed: int) -> None:
    print(f"seed {seed}, processor's seconds and MiB over what the program takes anyhow:")
    print(f"  {'':12}{'tried':>9}{'refused':>9}{'wrong':>7}  refused at most in")
    for sort, found in sorted(tallies.items()):
        print(
            f"  {sort:12}{found.tried:9,}{found.refused:9,}{found.wrong:7,}"
            f"  {found.slowest_refusal:.2f} s, {found.largest_refusal:.0f} MiB"
        )
    slowest = max(found.slowest for found in tallies.values())
    print(f"  slowest answer {slowest[0]:.2f} s: {slowest[1]}")


if __name__ == "__main__":
    sys.exit(main())
