"""How a burner stands with what was measured, in shop words, as plain values and as rows."""

from __future__ import annotations

from typing import Any

from sensitivity import __version__
from sensitivity.answers.built.find import LEVEL, Built, Part
from sensitivity.answers.measure.words import at_their_ends, setting_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.json_values import SCHEMA, estimate_value, proportion_value
from sensitivity.pricing.ranking import Ranked
from sensitivity.spreads.workshop import deviation_in_words

NAMED = 3
"""Dimensions named at most as what matters next."""

RULE = (
    "Good: the part is within its drawn spread with 95 % probability or more, given the reading "
    "and how the instrument errs. Not good: 5 % or less. Between: too close for this instrument "
    "to say (JCGM 106:2012; ISO 14253-1:2017)."
)


def built_verdict(found: Built) -> str:
    """Say in shop words how the burner stands, where to set it, and whether the parts are good."""
    drawn = wording.share_of_a_hundred(found.as_drawn)
    unsettled = found.change.low <= 0.0 <= found.change.high
    drawn += "; no change is settled" if unsettled else ""
    return " ".join(
        [
            f"Of 100 burners that read as this one does, "
            f"{wording.share_of_a_hundred(found.now)} keep within every limit as they stand "
            f"({drawn.replace(' (', ', ').replace(')', '')}, before anything was measured).",
            *_where_to_set(found),
            *_parts(found),
            _next(found),
        ]
    )


def _where_to_set(found: Built) -> list[str]:
    if found.best is None or found.settings is None:
        return []
    names = wording.listed([wording.in_words(item.name) for item in found.settings.inputs])
    best = found.set_well
    if best is None:
        if found.best.gain.high < LEVEL:
            return [f"Leave {names} as drawn: no setting is better."]
        return [f"Leave {names} as drawn: no better setting is settled; more --points may tell."]
    text = f"Set {setting_in_words(best.at, found.study.inputs)}: "
    text += wording.share_of_a_hundred(best.overall)
    if best.level is not None and best.level[0] < best.level[1]:
        level = " to ".join(wording.significant(end) for end in best.level)
        text += f" ({wording.with_unit(level, found.settings.inputs[0].unit)} is as good)"
    ends = at_their_ends(found.settings, best.at)
    if ends:
        text += f"; that is as far as {ends} can be set"
    return [text + "."]


def _parts(found: Built) -> list[str]:
    texts = []
    for verdict, words in (("good", "As drawn"), ("not good", "Not as drawn")):
        names = [_name(part) for part in found.parts if part.conformity.verdict == verdict]
        if names:
            texts.append(f"{words}: {wording.listed(names)}.")
    for part in found.parts:
        if part.conformity.verdict == "too close to say":
            instrument = wording.instrument(part.measured.entry.name)
            closer = wording.instrument(part.closer)
            more = f"; {closer} would tell" if closer else ""
            texts.append(f"Too close for {instrument} to say: {_name(part)}{more}.")
    return texts


def _name(part: Part) -> str:
    return wording.in_words(part.measured.item.name)


def _next(found: Built) -> str:
    left = [row for row in still_to_measure(found) if row.advice == "measure"]
    if left:
        names = wording.listed([wording.in_words(row.name) for row in left[:NAMED]])
        return f"Of what is not measured yet, most hangs on {names}."
    if found.ranking.rows:
        return "Nothing else that could be measured stands out."
    return found.ranking.note


def measured_names(found: Built) -> set[str]:
    """Name the inputs that were measured, and the groups of which all were."""
    names = {part.measured.item.name for part in found.parts}
    groups: dict[str, set[str]] = {}
    for item in found.study.varying:
        groups.setdefault(item.shown_group, set()).add(item.name)
    return names | {group for group, members in groups.items() if members <= names}


def still_to_measure(found: Built) -> list[Ranked]:
    """Rank the build dimensions that were not measured, what matters most first."""
    done = measured_names(found)
    return [row for row in found.ranking.of_kind("build") if row.name not in done]


def built_document(found: Built) -> dict[str, Any]:
    """Lay the answer out as plain values."""
    sampling, best = found.plan.sampling, found.best
    return {
        "schema": SCHEMA,
        "spiritlevel": __version__,
        "command": "built",
        "title": found.study.title,
        "seed": found.plan.seed,
        "replicates": sampling.replicates,
        "points": sampling.points,
        "confidence": sampling.confidence,
        "verdict": built_verdict(found),
        "rule": RULE,
        "measured": {part.measured.item.name: _part(part) for part in found.parts},
        "yield_as_drawn": proportion_value(found.as_drawn),
        "yield": proportion_value(found.now),
        "change": estimate_value(found.change),
        "best_setting": None
        if best is None
        else {
            "at": dict(best.at),
            "better": found.set_well is not None,
            "yield": proportion_value(best.overall),
            "gain": estimate_value(best.gain),
            "level_with_best": None if best.level is None else list(best.level),
        },
        "settings": [
            {"at": found.settings.at(place), "yield": proportion_value(share)}
            for place, share in enumerate(found.at_settings)
        ]
        if found.settings is not None
        else [],
        "matters_now": {
            "measured_by": found.ranking.measured_by,
            "note": found.ranking.note,
            "rows": [
                {
                    "name": row.name,
                    "kind": row.kind,
                    "measured": row.name in measured_names(found),
                    "advice": row.advice,
                    **estimate_value(row.measure),
                }
                for row in found.ranking.rows
            ],
        },
        "study": found.study.text,
    }


def _part(part: Part) -> dict[str, Any]:
    one, found = part.measured, part.conformity
    return {
        "unit": one.item.unit,
        "nominal": one.item.nominal,
        "measured": one.value,
        "instrument": one.entry.name,
        "standard_uncertainty": found.uncertainty,
        "tolerance": None if found.tolerance is None else list(found.tolerance),
        "guard_band": found.guard_band,
        "conformance_probability": found.probability,
        "verdict": found.verdict,
        "instrument_that_would_tell": part.closer or None,
        "coarser_than_drawing": part.coarse,
    }


def built_rows(found: Built) -> dict[str, list[dict[str, object]]]:
    """Lay the answer out as rows, by table."""
    parts: list[dict[str, object]] = []
    for part in found.parts:
        one, conformity = part.measured, part.conformity
        low, high = conformity.tolerance or (None, None)
        parts.append(
            {
                "input": one.item.name,
                "unit": one.item.unit,
                "nominal": one.item.nominal,
                "tolerance_low": low,
                "tolerance_high": high,
                "measured": one.value,
                "instrument": one.entry.name,
                "instrument_errs": deviation_in_words(one.entry),
                "standard_uncertainty": conformity.uncertainty,
                "guard_band": conformity.guard_band,
                "conformance_probability": conformity.probability,
                "verdict": conformity.verdict,
            }
        )
    settings: list[dict[str, object]] = [
        {
            **(found.settings.at(place) if found.settings is not None else {}),
            "yield": share.value,
            "yield_low": share.low,
            "yield_high": share.high,
        }
        for place, share in enumerate(found.at_settings)
    ]
    matters: list[dict[str, object]] = [
        {
            "input_or_group": row.name,
            "kind": row.kind,
            "measured": row.name in measured_names(found),
            "value": row.measure.value,
            "low": row.measure.low,
            "high": row.measure.high,
            "advice": row.advice if row.kind == "build" else "",
        }
        for row in found.ranking.rows
    ]
    tables = {"measured": parts, "settings": settings, "matters_now": matters}
    return {name: rows for name, rows in tables.items() if rows}
