"""What a run found, in shop words."""

from __future__ import annotations

from math import ceil, floor, log10

from sensitivity.answers.levels import headline
from sensitivity.answers.run.find import Ran
from sensitivity.answers.run.statements import failing
from sensitivity.engine.rare import RareFailures
from sensitivity.engine.result import Output, Result
from sensitivity.presentation import wording
from sensitivity.presentation.units_said import said_by

BASES = {100: "100", 10_000: "10 000", 1_000_000: "a million", 100_000_000: "a hundred million"}
"""What small chances are counted in."""


def run_verdict(ran: Ran) -> str:
    """Say what the run found: what can hurt first, how many work, and what breaks most often."""
    if ran.levels is None:
        return "No limits are stated, so nothing can pass or fail; the results are below."
    told = [*what_hurts(ran.result), *headline(ran.levels, ran.study)]
    if ran.rare is not None:
        told.append(rare_sentence(ran.rare, ran.result))
    return " ".join([*told, _weakest(ran.result)]).rstrip()


def what_hurts(result: Result) -> list[str]:
    """Say of each limit whose breaking can hurt someone how often it is broken, and its ceiling."""
    found = []
    for output in result.limited:
        limit, share = output.limit, output.proportion
        if limit is None or share is None or not limit.hurts:
            continue
        because = f" ({limit.because})" if limit.because else ""
        broken = failing(share)
        ceiling = wording.out_of_a_hundred(limit.ceiling)
        over = "above" if 1.0 - share.high > limit.ceiling else "not shown to be above"
        if 1.0 - share.low <= limit.ceiling:
            over = "below"
        found.append(
            f"This can hurt: {wording.in_words(output.name)} breaks its limit{because} at "
            f"{broken} of all moments, {over} the {ceiling} allowed."
        )
    return found


def rare_sentence(rare: RareFailures, result: Result) -> str:
    """Say how rarely a part fails at a moment, as far as that can be known."""
    one, bound = result.study.vocabulary.one, rare.at_most
    if result.overall is not None:
        bound = min(bound, 1.0 - result.overall.low)
    if rare.method == "none found":
        return (
            f"The chance that a {one} breaks a limit at a moment is below "
            f"{one_in(bound, bound=True)} (exact binomial bound); no way of failing was met."
        )
    if rare.within_factor is not None:
        return (
            f"The chance that a {one} breaks a limit at a moment is about "
            f"{one_in(rare.chance.value)}, within a factor of {rare.within_factor:g}; the sample "
            f"alone bounds it at {one_in(bound, bound=True)}."
        )
    tails = ", and rests on tails that nobody measured" if rare.rests_on_tails else ""
    return (
        f"The chance that a {one} breaks a limit at a moment is {one_in(rare.chance.value)} "
        f"(sampling: {one_in(rare.chance.low)} to {one_in(rare.chance.high)}; importance "
        f"sampling){tails}."
    )


def one_in(chance: float, *, bound: bool = False) -> str:
    """Write a small chance as so many in 100, in 10 000, in a million or in a hundred million.

    With two digits; a ``bound`` is rounded up.
    """
    if not chance > 0.0:
        return "0"
    base = next((base for base in BASES if chance * base >= 1.0), max(BASES))
    count = chance * base
    step = 10.0 ** (floor(log10(count)) - 1)
    rounded = (ceil(count / step - 1e-9) if bound else round(count / step)) * step
    return f"{rounded:.6g} in {BASES[base]}"


def _weakest(result: Result) -> str:
    """Say which limit is broken most often, and why it matters."""
    held = [output for output in result.limited if output.proportion is not None]
    worst: Output = min(held, key=lambda output: output.proportion.value)  # type: ignore[union-attr]
    assert worst.proportion is not None
    assert worst.limit is not None
    share = 1.0 - worst.proportion.value
    if share == 0.0:
        return ""
    because = f": {worst.limit.because}" if worst.limit.because else ""
    wanted = said_by(result.study).limit(worst.limit)
    return (
        f"Broken most often: {wording.in_words(worst.name)} should be {wanted} and is not "
        f"in {wording.out_of_a_hundred(share)}{because}."
    )


def result_notes(result: Result) -> list[str]:
    """Say what a reader of the results must know beside the figures."""
    notes = []
    shares = [output.proportion for output in result.outputs if output.proportion]
    if any(share.method == "clopper-pearson" for share in shares):
        notes.append(
            "* or a bound: exact binomial (Clopper-Pearson) on the pooled counts, where failures "
            "are too few for the spread between replicates."
        )
    if result.invalid:
        notes.append(
            f"The models have no answer for {result.invalid:,} of {result.evaluations:,} "
            "evaluations; these count as failing every limit."
        )
    for name, count in result.outside.items():
        stated = next(q.range.stated for q in result.plan.system.inputs if q.name == name)
        notes.append(
            f"{wording.in_words(name)}: {count:,} drawn values are physically impossible (it is "
            f"{stated}) and count as failing; look at its spread."
        )
    return notes
