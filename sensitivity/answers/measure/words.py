"""What to measure, in shop words, as plain values and as rows of tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import groupby
from typing import Any

from sensitivity import __version__
from sensitivity.answers.measure.find import Measuring, Step
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.presentation import wording
from sensitivity.presentation.json_values import SCHEMA, estimate_value, proportion_value
from sensitivity.pricing.readings import Candidate, Reading
from sensitivity.pricing.settings import Settings
from sensitivity.study.study import Input

RULE = (
    "The dimension whose reading gains most, given those read before; with the instrument of "
    "fewest minutes whose gain lies in the interval of the best one's. Choices are made by some "
    "replicates and scored on the others. It stops at the target, where no gain is settled at the "
    "confidence shared out among all dimensions, or where none saves one in fifty of what fails."
)

WORTH_A_WORD = 0.001
"""Share of burners below which what all other dimensions add is not spoken of."""


def settings_in_words(at: Mapping[str, float], inputs: Iterable[Input]) -> list[str]:
    """Write where each adjustable input is set: ``breather height at 12.6 mm``."""
    units = {item.name: item.unit for item in inputs}
    return [
        f"{wording.in_words(name)} at {wording.with_unit(wording.significant(value), units[name])}"
        for name, value in at.items()
    ]


def setting_in_words(at: Mapping[str, float], inputs: Iterable[Input]) -> str:
    """Write where adjustable inputs are set, in a row."""
    return wording.listed(settings_in_words(at, inputs))


def adjustable_in_words(found: Measuring) -> str:
    """Name what can be set."""
    if found.settings is None:
        return ""
    return wording.listed([wording.in_words(item.name) for item in found.settings.inputs])


def readings_in_words(steps: Iterable[Step]) -> str:
    """Write the order of reading, instruments named where they change."""
    parts = []
    for instrument, run in groupby(steps, key=lambda step: step.reading.instrument):
        names = wording.listed([wording.in_words(step.name) for step in run])
        parts.append(f"{names} ({wording.instrument(instrument)})")
    return ", then ".join(parts)


def measuring_verdict(found: Measuring) -> str:
    """Say in shop words what to measure, with what, and what comes of it."""
    words = _lighting_verdict(found) if found.set_well is None else _setting_verdict(found)
    return f"{words} {_closing(found)}".rstrip()


def _setting_verdict(found: Measuring) -> str:
    assert found.set_well is not None
    drawn, well = _of_100(found.as_drawn), _of_100(found.set_well.overall)
    where = setting_in_words(found.set_well.at, found.study.inputs)
    better = (
        f"and {well} with {where}"
        if found.set_well.gain.low > 0.0
        else "and no setting that is settled beats it"
    )
    start = f"Of 100 burners {drawn} keep within every limit as drawn, {better}."
    if not found.steps:
        return start
    return (
        f"{start} Measure {readings_in_words(found.steps)}, and set {adjustable_in_words(found)} "
        f"to suit: {wording.share_of_a_hundred(found.final)} of 100, for {_minutes(found)} of "
        "measuring."
    )


def _lighting_verdict(found: Measuring) -> str:
    drawn = _of_100(found.as_drawn)
    start = f"Of 100 burners {drawn} keep within every limit as drawn, and nothing can be set."
    if found.as_drawn.value < 0.5:
        start += ' More fail than work: move a nominal first, by "spiritlevel window".'
    if not found.steps:
        return start
    unlit = found.steps[-1].unlit
    told = f"{start} Measure {readings_in_words(found.steps)}, {_minutes(found)} of it"
    if unlit.lit.rows == 0:
        return f"{told}: whatever is read, it is likelier to fail than to work."
    return (
        f"{told}, and remake what is likelier to fail than to work: {_of_100(unlit.share)} of 100 "
        f"stay unlit, and of 100 that are lit {wording.share_of_a_hundred(unlit.lit)} keep within "
        "every limit."
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
                'setting. Look to the spreads: "spiritlevel tighten".'
            )
    if found.rest is None or found.rest.low <= 0.0 or found.rest.value < WORTH_A_WORD:
        what = "Nothing else" if found.steps else "No dimension"
        parts.append(f"{what} is worth measuring.")
    else:
        whom = (
            "All other dimensions"
            if found.steps
            else "No dimension is worth measuring by itself; all"
        )
        parts.append(
            f"{whom} together, known exactly, would add "
            f"{wording.significant(100.0 * found.rest.value, 2)} of 100."
        )
    return " ".join(parts)


def at_their_ends(settings: Settings, at: Mapping[str, float]) -> str:
    """Name the adjustable inputs that are set at an end of their range; empty if none is."""
    names = [
        wording.in_words(item.name)
        for item in settings.inputs
        if item.adjust is not None and at[item.name] in item.adjust
    ]
    return wording.listed(names) if names else ""


def _of_100(share: Proportion) -> str:
    """Write a share as burners of 100 without its interval, and never as a bare 100."""
    return wording.share_of_a_hundred(share).partition(" (")[0]


def share_in_words(share: Proportion) -> str:
    """Write a share that may be of nothing at all."""
    return "none is lit" if share.rows == 0 else wording.percent(share)


def measuring_document(found: Measuring) -> dict[str, Any]:
    """Lay the answer out as plain values."""
    sampling, settings, well = found.plan.sampling, found.settings, found.set_well
    return {
        "schema": SCHEMA,
        "spiritlevel": __version__,
        "command": "measure",
        "title": found.study.title,
        "seed": found.plan.seed,
        "replicates": sampling.replicates,
        "points": sampling.points,
        "confidence": sampling.confidence,
        "target": found.target,
        "verdict": measuring_verdict(found),
        "rule": RULE,
        "yield_as_drawn": proportion_value(found.as_drawn),
        "adjustable": {
            item.name: {
                "unit": item.unit,
                "nominal": item.nominal,
                "range": list(item.adjust or ()),
            }
            for item in (settings.inputs if settings else ())
        },
        "set_well": None
        if well is None
        else {
            "at": dict(well.at),
            "yield": proportion_value(well.overall),
            "gain": estimate_value(well.gain),
        },
        "ceiling": proportion_value(found.ceiling),
        "steps": [
            {
                "name": step.name,
                **_reading(step.reading),
                "yield": proportion_value(step.overall),
                "left_unlit": proportion_value(step.unlit.share),
                "yield_of_those_lit": proportion_value(step.unlit.lit),
            }
            for step in found.steps
        ],
        "minutes": found.minutes,
        "all_others_exactly": None if found.rest is None else estimate_value(found.rest),
        "alone": [_candidate(row) for row in found.candidates],
        "study": found.study.text,
    }


def _reading(reading: Reading) -> dict[str, Any]:
    return {
        "instrument": reading.instrument,
        "minutes": reading.minutes,
        "gain": estimate_value(reading.gain),
    }


def _candidate(row: Candidate) -> dict[str, Any]:
    return {
        "name": row.name,
        "gain_known_exactly": estimate_value(row.perfect),
        "advised": None if row.advised is None else row.advised.instrument,
        "instruments": [_reading(reading) for reading in row.readings],
    }


def measuring_rows(found: Measuring) -> dict[str, list[dict[str, object]]]:
    """Lay the answer out as rows, by table."""
    steps = [
        {
            "step": place,
            "dimension": step.name,
            "instrument": step.reading.instrument,
            "minutes": step.reading.minutes,
            **_cells("gain", step.reading.gain),
            **(_cells("yield", step.overall) if step.overall else {}),
            **_cells("left_unlit", step.unlit.share),
            **_cells("yield_of_those_lit", step.unlit.lit),
        }
        for place, step in enumerate(found.steps, start=1)
    ]
    alone: list[dict[str, object]] = []
    for row in found.candidates:
        alone.append({"dimension": row.name, "instrument": "", **_cells("gain", row.perfect)})
        alone += [
            {
                "dimension": row.name,
                "instrument": reading.instrument,
                "minutes": reading.minutes,
                **_cells("gain", reading.gain),
                "advised": reading == row.advised,
            }
            for reading in row.readings
        ]
    return {"order": steps, "alone": alone}


def _cells(name: str, value: Estimate | Proportion) -> dict[str, object]:
    return {name: value.value, f"{name}_low": value.low, f"{name}_high": value.high}
