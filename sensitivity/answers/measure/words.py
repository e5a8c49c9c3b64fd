"""What to measure, in shop words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby
from math import isfinite

from sensitivity.answers.finalists import physics_in_short
from sensitivity.answers.gauged_words import reached_in_words, should_read
from sensitivity.answers.levels import moments_in_words, sampled
from sensitivity.answers.measure.find import Measuring
from sensitivity.answers.measure.order import MeasureStep
from sensitivity.answers.measure.rejection import Rejection
from sensitivity.answers.next_commands import Ask, next_in_words, reach
from sensitivity.answers.settings_words import (
    adjustable_in_words,
    settings_in_words,
    settings_left_out,
)
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.presentation import wording
from sensitivity.system.vocabulary import Vocabulary

RULE = (
    "The dimension or the result whose reading gains most, given those read before; with the "
    "instrument of fewest minutes whose gain lies in the interval of the best one's. Where none "
    "gains by itself, those that gain together are read in turn. Then each is tried against others "
    "in its place, and what later readings make needless is left out. Choices are made by some "
    "replicates and scored on the others. It stops at the target, where no gain is clear of zero "
    "at the confidence shared out among all that may be read, or where none saves one in fifty "
    "of what fails."
)

NOTHING_SET = "no dimension has a range in which it can be set at assembly (adjust)"

MOST_NAMED = 8
"""Of what gains nothing alone, that which comes nearest to it."""

WORTH_A_WORD = 0.001
"""Share of all that are built below which what all other dimensions add is not spoken of."""


def readings_in_words(steps: Iterable[MeasureStep]) -> str:
    """Write the order of reading, instruments named where they change."""
    parts = []
    for instrument, run in groupby(steps, key=lambda step: step.reading.instrument):
        names = wording.listed([wording.in_words(step.name) for step in run])
        parts.append(f"{names} ({wording.instrument(instrument)})")
    return ", then ".join(parts)


def measure_verdict(found: Measuring) -> str:
    """Say in shop words what to measure, with what, and what comes of it."""
    words = _lighting_verdict(found) if found.set_well is None else _setting_verdict(found)
    return " ".join([*settings_left_out(found.barred), words, _closing(found)]).rstrip()


def does(found: Measuring) -> str:
    """Say what is counted: those that ``work``, or ``keep every limit`` where that is the same."""
    return "keep every limit" if found.levels.one_level else "work"


def to_work_in_words(found: Measuring) -> str:
    """Say what it is to work; empty where it is to keep every limit."""
    if found.levels.one_level:
        return ""
    return f"To work is to keep every limit in {moments_in_words(found.levels.keeps)}."


def as_physics_may_turn_out(found: Measuring) -> str:
    """Write the band of what comes of the last step; empty where no doubt is stated."""
    return physics_in_short(replace(found.levels, band=found.band))


def _setting_verdict(found: Measuring) -> str:
    assert found.set_well is not None
    drawn, well = _of_100(found.as_drawn), _of_100(found.set_well.overall)
    better = (
        f"and {well} with {at_best(found)}"
        if found.set_well.gain.low > 0.0
        else "and no other setting is clearly better"
    )
    start = f"{_drawn_in_words(found, drawn)}, {better}."
    if not found.steps:
        return f"{start} {to_work_in_words(found)}".rstrip()
    return (
        f"{start} Measure {readings_in_words(found.steps)}, and set "
        f"{adjustable_in_words(found.settings)} to suit: {sampled(found.final)} of 100 "
        f"{does(found)}{as_physics_may_turn_out(found)}, for {_minutes(found)} of measuring. "
        f"{to_work_in_words(found)}"
    ).rstrip()


def _drawn_in_words(found: Measuring, drawn: str) -> str:
    many = found.study.system.vocabulary.many
    return f"Of 100 {many} {drawn} {does(found)} as drawn{physics_in_short(found.levels)}"


def _lighting_verdict(found: Measuring) -> str:
    drawn = _of_100(found.as_drawn)
    said = found.study.system.vocabulary
    none = "" if found.barred else f": {NOTHING_SET}"
    start = f"{_drawn_in_words(found, drawn)}, and nothing can be set{none}."
    if working := to_work_in_words(found):
        start += f" {working}"
    if found.as_drawn.value < 0.5:
        start += " More fail than work, so a nominal is to be moved first."
    if not found.steps:
        return start
    rejection = found.steps[-1].rejection
    told = f"{start} Measure {readings_in_words(found.steps)}, {_minutes(found)} of it"
    if rejection.accepted.rows == 0:
        return f"{told}: whatever is read, it is likelier to fail than to work."
    return (
        f"{told}, and remake what is likelier to fail than to work: {_of_100(rejection.share)} of "
        f"100 stay {said.unused}, and of 100 that are {said.used} {sampled(rejection.accepted)} "
        f"{does(found)}{as_physics_may_turn_out(found)}."
    )


def _minutes(found: Measuring) -> str:
    return f"{found.minutes:g} minute{'' if found.minutes == 1 else 's'}"


def _closing(found: Measuring) -> str:
    if found.target is not None and found.final.low >= found.target:
        return f"That reaches {wording.of_a_hundred(found.target)}."
    parts = []
    if found.target is not None:
        parts.append(f"That falls short of {wording.of_a_hundred(found.target)}.")
        if found.ceiling is not None and found.ceiling.high < found.target:
            parts.append(
                f"No measuring reaches it: only {_of_100(found.ceiling)} of 100 work at any "
                "setting."
            )
    if found.rest is None or found.rest.low <= 0.0 or found.rest.value < WORTH_A_WORD:
        what = "Nothing else" if found.steps else "Nothing"
        parts.append(f"{what} is worth measuring.")
    else:
        whom = (
            "All other dimensions"
            if found.steps
            else "Nothing is worth measuring by itself; all dimensions"
        )
        parts.append(
            f"{whom} together, known exactly, would add "
            f"{wording.significant(100.0 * found.rest.value, 2)} of 100."
        )
    return " ".join(parts)


def _of_100(share: Proportion) -> str:
    """Write a share as so many of 100 without its interval, and never as a bare 100."""
    return wording.share_of_a_hundred(share).partition(" (")[0]


def accepted_in_words(rejection: Rejection, said: Vocabulary) -> str:
    """Write how many of those accepted work, where there are any."""
    if rejection.accepted.rows == 0:
        return f"none is {said.used}"
    return wording.percent(rejection.accepted)


def said_in_words(found: Measuring) -> str:
    """Say which dimensions a result says enough of, once it is read; empty where none does."""
    told: set[str] = set()
    sentences = []
    for said in found.said:
        parts = [
            item.name
            for item in found.study.inputs
            if item.name in said.parts and item.name not in told
        ]
        told.update(parts)
        if not parts:
            continue
        names = wording.listed([wording.in_words(name) for name in parts])
        result = wording.in_words(said.result)
        them = "it" if len(parts) == 1 else "them"
        sentences.append(
            f"{result[0].upper()}{result[1:]} is made of {names}, and one reading of it says it "
            f"for {them}: {'that' if len(parts) == 1 else 'all of them'}, known exactly as well, "
            f"would add {_added(said.more)}."
        )
    return " ".join(sentences)


def _added(more: Estimate) -> str:
    if more.low <= 0.0:
        return "nothing that is clear of zero"
    return f"{wording.gain_of_a_hundred(more).removeprefix('+')} of 100"


def as_drawn_it_reads(found: Measuring) -> str:
    """Say what each reading of the order should be, and what a gauge reaches; empty without any."""
    study, names = found.study, [step.name for step in found.steps]
    reads = [
        f"{wording.in_words(name)} {text}" for name in names if (text := should_read(study, name))
    ]
    if not reads:
        return ""
    told = f"As drawn it reads: {', '.join(reads)}.", accepted_between_in_words(found)
    return " ".join(filter(None, [*told, reached_in_words(study, names)]))


def accepted_between_in_words(found: Measuring) -> str:
    """Say between which first readings a part is accepted; empty where that is not known."""
    between = found.accepted
    if between is None:
        return ""
    name, one = found.steps[0].name, found.study.system.vocabulary.one
    manner, low, high = found.units_said.of(name), between.low, between.high
    if isfinite(low) and isfinite(high):
        where = f"from about {manner.pair(low, high, high - low)}"
    elif isfinite(low):
        where = f"at about {manner.text(low)} or more"
    else:
        where = f"at about {manner.text(high)} or less"
    return (
        f"By {wording.in_words(name)} alone: {where} the {one} is likelier to work than to fail; "
        "otherwise remake it."
    )


def at_best(found: Measuring) -> str:
    """Write the best of one setting for all; empty where nothing can be set."""
    well = found.set_well
    return "" if well is None else settings_in_words(well.at, found.units_said)


def gains_in_words(found: Measuring) -> str:
    """Say of what the gains are counted, and what no measuring can better."""
    said = found.study.system.vocabulary
    if found.ceiling is None:
        return f"Gains of 100 built: bad {said.many} kept {said.unused}, less good ones remade."
    return (
        f"Gains: {said.many} of 100. No measuring can do better than "
        f"{wording.percent(found.ceiling)}; the others work at no "
        f"{adjustable_in_words(found.settings)} that can be set."
    )


def without_gain_in_words(found: Measuring) -> str:
    """Name what gains nothing alone; empty if each gains."""
    names = [wording.in_words(row.name) for row in found.candidates if not row.settled]
    if not names:
        return ""
    if len(names) > MOST_NAMED + 1:
        names = [*names[:MOST_NAMED], f"{len(names) - MOST_NAMED} others"]
    return f"No gain alone, though they may gain together: {wording.listed(names)}."


def next_after_measuring(found: Measuring) -> str:
    """Say what to ask next: where to set it once it is read, else what is in the way."""
    short = found.target is not None and found.final.low < found.target
    wanted = reach(found.target) if found.target is not None else ""
    closer = Ask("tighten", "says what to make closer", wanted)
    redraw = Ask("redraw", "says whether a nominal is in the way")
    built = None
    if found.steps and found.set_well is not None:
        step = found.steps[0]
        words = f" --measured {step.name}=READING --with {step.name}={step.reading.instrument}"
        built = Ask("built", "says where to set it", words)
    if built is not None:
        return next_in_words(found.study, "measure", built, redraw if short else None)
    return next_in_words(found.study, "measure", redraw, closer)
