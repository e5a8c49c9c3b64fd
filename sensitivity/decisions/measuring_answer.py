"""What to measure, in shop words, as plain values and as rows of tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import groupby
from typing import Any

from sensitivity import __version__, wording
from sensitivity.decisions.measuring import Measuring, Step
from sensitivity.decisions.readings import Candidate, Reading
from sensitivity.document import SCHEMA, estimate_value, proportion_value
from sensitivity.intervals import Proportion
from sensitivity.study import Input

RULE = (
    "The dimension whose reading gains most, given those read before; with the instrument of fewest "
    "minutes whose gain lies in the interval of the best one's. Choices are made by some "
    "replicates and scored on the others. It stops at the target, or where no gain is settled at "
    "the confidence shared out among all dimensions."
)


def setting_in_words(at: Mapping[str, float], inputs: Iterable[Input]) -> str:
    """Write where adjustable inputs are set: ``breather height at 12.6 mm``."""
    units = {item.name: item.unit for item in inputs}
    return wording.listed(
        [
            f"{wording.in_words(name)} at "
            + wording.with_unit(wording.significant(value), units[name])
            for name, value in at.items()
        ]
    )


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
        parts.append(f"{names} ({wording.in_words(instrument)})")
    return ", then ".join(parts)


def measuring_verdict(found: Measuring) -> str:
    """Say in shop words what to measure, with what, and what comes of it."""
    words = _lighting_verdict(found) if found.set_well is None else _setting_verdict(found)
    return f"{words} {_closing(found)}".rstrip()


def _setting_verdict(found: Measuring) -> str:
    assert found.set_well is not None
    drawn, well = _of_100(found.as_drawn), _of_100(found.set_well.overall)
    where = setting_in_words(found.set_well.at, found.study.inputs)
    if found.set_well.gain.low > 0.0:
        start = f"As drawn {drawn} of 100 keep within every limit; with {where}, {well}."
    else:
        start = f"As drawn {drawn} of 100 keep within every limit, and no one setting is better."
    if not found.steps:
        return f"{start} {_NO_READING}"
    share = wording.share_of_a_hundred(found.final)
    return (
        f"{start} Measure {readings_in_words(found.steps)}, set {adjustable_in_words(found)} to "
        f"suit, and it is {share}, for {found.minutes:g} minutes of measuring."
    )


_NO_READING = "No dimension is worth measuring by itself."


def _lighting_verdict(found: Measuring) -> str:
    drawn = _of_100(found.as_drawn)
    start = (
        f"Nothing here can be set at assembly, and as drawn {drawn} of 100 keep within every limit."
    )
    if not found.steps:
        return f"{start} {_NO_READING}"
    unlit = found.steps[-1].unlit
    if unlit.lit.rows == 0:
        return f"{start} Whatever is read, it is likelier to fail than to work."
    return (
        f"{start} Measure {readings_in_words(found.steps)} ({found.minutes:g} minutes) and remake "
        f"what is likelier to fail than to work: {_of_100(unlit.share)} of 100 are not lit, and "
        f"of 100 that are lit {wording.share_of_a_hundred(unlit.lit)} keep within every limit."
    )


def _closing(found: Measuring) -> str:
    if found.target is not None and found.final.low >= found.target:
        return f"That reaches {wording.of_a_hundred(found.target)}."
    parts = []
    if found.target is not None:
        parts.append(f"That falls short of {wording.of_a_hundred(found.target)}.")
        if found.ceiling is not None and found.ceiling.high < found.target:
            parts.append(
                f"No measuring reaches it: {_of_100(found.ceiling)} of 100 work at some setting, "
                'and the others at none. Look to the spreads: "spiritlevel tighten".'
            )
    if found.rest is not None and found.rest.low > 0.0:
        parts.append(
            f"All other dimensions together, known exactly, would add {_of_100(found.rest)}."
        )
    elif found.rest is not None:
        parts.append("Nothing else is worth measuring.")
    return " ".join(parts)


def _of_100(share: Any) -> str:
    return wording.significant(100.0 * share.value, 3)


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
            **_estimate("gain", step.reading.gain),
            **(_share("yield", step.overall) if step.overall else {}),
            **_share("left_unlit", step.unlit.share),
            **_share("yield_of_those_lit", step.unlit.lit),
        }
        for place, step in enumerate(found.steps, start=1)
    ]
    alone: list[dict[str, object]] = []
    for row in found.candidates:
        alone.append({"dimension": row.name, "instrument": "", **_estimate("gain", row.perfect)})
        alone += [
            {
                "dimension": row.name,
                "instrument": reading.instrument,
                "minutes": reading.minutes,
                **_estimate("gain", reading.gain),
                "advised": reading == row.advised,
            }
            for reading in row.readings
        ]
    return {"order": steps, "alone": alone}


def _estimate(name: str, value: Any) -> dict[str, object]:
    return {name: value.value, f"{name}_low": value.low, f"{name}_high": value.high}


_share = _estimate
