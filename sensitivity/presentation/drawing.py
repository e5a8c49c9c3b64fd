"""Drawings to scale that models bring: found the same way as models, styled and shaded here.

A model's drawing is a plain function ``draw(design)``: ``design`` holds every input and result
of the study by name, each a number; it returns shapes (see ``elevation``) in mm. The first line
of its docstring says what it shows. Among the shapes may stand two wishes: ``Again`` (name,
share, words), to be drawn once more with an input at that share of its spread, and ``Detail``
(low, high, words), a window to be drawn larger as well. The engine knows no more of it than that.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import escape
from numpy.typing import NDArray

from sensitivity.engine.plan import Plan
from sensitivity.engine.result import Result
from sensitivity.engine.sampling import draw as draw_inputs
from sensitivity.engine.sampling import replicate_uniforms
from sensitivity.errors import ModelError
from sensitivity.presentation import wording
from sensitivity.presentation.elevation import (
    SKETCHED,
    Says,
    View,
    elevation_svg,
    fault_of,
    kind_of,
    points_of,
)
from sensitivity.presentation.figure_style import INK, NEUTRAL
from sensitivity.presentation.left_out import left_out_if_it_fails
from sensitivity.presentation.texts import shown
from sensitivity.presentation.units_said import said_by
from sensitivity.spreads.spread import quantile
from sensitivity.study.study import Study
from sensitivity.system.catalogue import Model, companion
from sensitivity.system.system import Values, inside_range

Floats = NDArray[np.float64]
Draw = Callable[[Mapping[str, float]], Sequence[Any]]

SHADED = 40
"""Parts as built, laid over each other to shade: enough to see a spread, few enough to be small."""

WIDTH, PAD_X, PAD_Y, GAP, TALLEST = 700.0, 74.0, 40.0, 14.0, 330.0
"""Of the figure, in px: width, room for labels beside and above, between panels, one panel."""

AGAIN = "_again"
"""Behind the name of a drawing of the design in other conditions than as drawn."""

FONT = "'DejaVu Sans', Verdana, 'Segoe UI', Roboto, Helvetica, Arial, sans-serif"


@dataclass(frozen=True)
class Condition:
    """One panel: what it is, the design as drawn, and some as built, all as shapes."""

    title: str
    short: str
    design: Mapping[str, float]
    shapes: Sequence[Any]
    built: Sequence[Sequence[Any]]


def model_drawings(result: Result) -> dict[str, tuple[str, str]]:
    """Draw every drawing that the study's models bring: SVG text and what it shows, by name.

    The name is ``drawing``, or ``drawing_MODEL`` where several models bring one; with ``_again``
    behind it, the same in the conditions that it wishes to be seen in. A drawing whose numbers are
    not all there (a model has no answer as drawn) is left out.
    """
    return study_drawings(result.study, result.sample)


def plan_drawings(study: Study, plan: Plan, called: str = "As drawn") -> dict[str, tuple[str, str]]:
    """As ``model_drawings``, of a study and a plan by which some as built are drawn here."""
    drawn = draw_inputs(plan, replicate_uniforms(plan, 0)[0])
    sample = {name: np.asarray(values) for name, values in drawn.items() if np.ndim(values)}
    return study_drawings(study, sample, called)


def study_drawings(
    study: Study, sample: Mapping[str, Floats], called: str = "As drawn"
) -> dict[str, tuple[str, str]]:
    """As ``model_drawings``, of a study and a sample of its varying inputs (n,) by name.

    ``called`` is what the design at its nominals is called.
    """
    found: dict[tuple[str, str], tuple[str, str]] = {}
    for model in _as_listed(study):
        draw = None
        with left_out_if_it_fails(f'drawing of model "{model.name}"', None):
            draw = companion(model, "drawing")
        if draw is None:
            continue
        with left_out_if_it_fails(f'drawing of model "{model.name}"', draw):
            conditions = _conditions(study, sample, model.name, draw, called)
            if conditions and _drawable(conditions[0].shapes):
                described = inspect.getdoc(draw) or model.name
                # As drawn by itself: it is what a first page and a bench card have room for.
                found[model.name, ""] = _figure(described, conditions[:1], study)
                if again := conditions[1:]:
                    described = f"{again[0].title}: {described[0].lower()}{described[1:]}"
                    found[model.name, AGAIN] = _figure(described, again, study)
    alone = len({name for name, _ in found}) == 1
    return {
        f"drawing{'' if alone else f'_{name}'}{suffix}": drawn
        for (name, suffix), drawn in found.items()
    }


def _as_listed(study: Study) -> list[Model]:
    """The models in the study's own order, which is that of its story."""
    return sorted(study.system.models, key=lambda model: study.models.index(model.name))


def _drawable(shapes: Sequence[Any]) -> bool:
    points = [points_of(shape) for shape in shapes if kind_of(shape) in SKETCHED]
    return bool(points) and any(np.isfinite(each).all() for each in points)


def _conditions(
    study: Study, sample: Mapping[str, Floats], model: str, draw: Draw, called: str
) -> list[Condition]:
    """Draw the design as stated, and again for each wish that the study can grant."""
    shapes = _called(model, draw, _design(study, {}))
    spreads = {item.name: item for item in study.varying}
    wishes = [s for s in shapes if kind_of(s) == "Again" and s.name in spreads]
    held = {wish.name: spreads[wish.name].nominal for wish in wishes}
    said = said_by(study)
    places = ", ".join(f"{wording.in_words(name)} {said.drawn(spreads[name])}" for name in held)
    title = f"{called}, {places}" if places else called
    panels: list[tuple[str, str, dict[str, float]]] = [(title, places or called.lower(), held)]
    for wish in wishes:
        item = spreads[wish.name]
        assert item.spread is not None
        value = float(quantile(item.spread, np.array([wish.share]))[0])
        short = f"{wording.in_words(wish.name)} {said.of(wish.name).text(value, abs(value))}"
        panels.append(
            (
                f"{wish.words}: {short} ({100 * wish.share:g} % of its spread lies below)",
                short,
                {**held, wish.name: value},
            )
        )
    return [
        Condition(
            title,
            short,
            design := _design(study, fixed),
            _called(model, draw, design),
            [_called(model, draw, one) for one in _as_built(study, sample, fixed)],
        )
        for title, short, fixed in panels
    ]


def _called(model: str, draw: Draw, design: Mapping[str, float]) -> Sequence[Any]:
    with np.errstate(all="ignore"):
        shapes = tuple(draw(design))
    for shape in shapes:
        if wrong := fault_of(shape):
            raise ModelError(f'the drawing of model "{model}" returned {wrong}')
    return shapes


def _design(study: Study, fixed: Mapping[str, float]) -> dict[str, float]:
    """Inputs at their nominals but for what is fixed, and the results there."""
    values: dict[str, float] = {item.name: item.nominal for item in study.inputs}
    values |= fixed
    results = study.system.evaluate(values)
    return values | {name: float(value) for name, value in results.items()}


def _as_built(
    study: Study, sample: Mapping[str, Floats], fixed: Mapping[str, float]
) -> list[dict[str, float]]:
    """Some of the sampled parts, what is fixed being so in all of them."""
    rows = {name: values[:SHADED] for name, values in sample.items()}
    values: dict[str, Floats | float] = {item.name: item.nominal for item in study.inputs}
    values |= {item.name: rows[item.name] for item in study.varying if item.name in rows}
    values |= fixed
    for quantity in study.system.inputs:
        values[quantity.name] = inside_range(values[quantity.name], quantity)[0]
    everything: Values = {**values, **study.system.evaluate(values)}
    count = max((np.size(value) for value in everything.values()), default=1)
    columns = {name: np.broadcast_to(value, (count,)) for name, value in everything.items()}
    return [{name: float(column[row]) for name, column in columns.items()} for row in range(count)]


# --- one figure of all the panels ---------------------------------------------------------------


def _figure(description: str, conditions: Sequence[Condition], study: Study) -> tuple[str, str]:
    """Lay the panels out under each other, details side by side below; say what it shows."""
    low, high = _extent(conditions)
    width, height = high[0] - low[0], high[1] - low[1]
    scale = min((WIDTH - 2.0 * PAD_X) / width, TALLEST / height)
    parts, top = [], 0.0
    details = [
        (condition, shape)
        for condition in conditions
        for shape in condition.shapes
        if kind_of(shape) == "Detail" and np.isfinite([*shape.low, *shape.high]).all()
    ]
    for condition in conditions:
        tall = scale * height + 2.0 * PAD_Y
        view = View(low, high, (0.0, top + 20.0, WIDTH, top + 20.0 + tall), scale)
        parts.append(_title(condition.title, 0.0, top + 13.0))
        parts.append(
            elevation_svg(
                condition.shapes,
                condition.built,
                view,
                _says(study, condition),
                _labelled_outside(condition),
            )
        )
        parts += [_window(shape, view) for owner, shape in details if owner is condition]
        top = view.frame[3]
    parts.append(_scale_bar(study, scale, WIDTH - 8.0, top - 6.0, 90.0))
    columns, lowest = min(2, len(details)), top
    for place, (condition, shape) in enumerate(details):
        wide = (WIDTH - (columns - 1) * GAP) / columns
        left = (place % columns) * (wide + GAP)
        if place % columns == 0:
            top, lowest = top + GAP, 0.0
        text, bottom = _detail(study, condition, shape, left, top, wide, place)
        parts.append(text)
        lowest = max(lowest, bottom)
        if place % columns == columns - 1 or place == len(details) - 1:
            top = lowest
    words = _words(description, conditions, bool(details), study.system.vocabulary.many)
    return _document(parts, top + 4.0, f"{words}; {_labels(conditions[0])}"), words


def _extent(conditions: Sequence[Condition]) -> tuple[tuple[float, float], tuple[float, float]]:
    shapes = [shape for condition in conditions for shape in condition.shapes]
    points = [points_of(shape) for shape in shapes if kind_of(shape) in SKETCHED]
    points += [np.array([s.start, s.end]) for s in shapes if kind_of(s) == "Dimension"]
    points = [each for each in points if np.isfinite(each).all()]
    everything = np.concatenate(points)
    low, high = everything.min(axis=0), everything.max(axis=0)
    high = np.maximum(high, low + 1e-6)
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def _labelled_outside(condition: Condition) -> Callable[[Any], bool]:
    """Leave to a detail the labels of what it shows."""
    windows = [shape for shape in condition.shapes if kind_of(shape) == "Detail"]

    def labelled(shape: Any) -> bool:
        x, z = shape.at if kind_of(shape) == "Text" else shape.start
        return not any(w.low[0] <= x <= w.high[0] and w.low[1] <= z <= w.high[1] for w in windows)

    return labelled


def _says(study: Study, condition: Condition) -> Says:
    inputs = {item.name: item for item in study.inputs}
    said = said_by(study)

    def says(name: str) -> tuple[str, ...]:
        if name not in condition.design:
            return ()
        if name in inputs and condition.design[name] == inputs[name].nominal:
            return wording.in_words(name), said.drawn(inputs[name])
        value = condition.design[name]
        return wording.in_words(name), said.of(name).text(value, 0.1 * abs(value))

    return says


def _detail(
    study: Study,
    condition: Condition,
    shape: Any,
    left: float,
    top: float,
    wide: float,
    place: int,
) -> tuple[str, float]:
    """Draw one window larger, cut at its frame; return it and where it ends."""
    scale = min(
        (wide - 8.0) / (shape.high[0] - shape.low[0]), TALLEST / (shape.high[1] - shape.low[1])
    )
    tall = scale * (shape.high[1] - shape.low[1])
    frame = (left, top + 20.0, left + wide, top + 20.0 + tall)
    view = View(tuple(shape.low), tuple(shape.high), frame, scale)
    clip = f"detail-{place + 1}"
    x, y, right, bottom = frame
    return (
        _title(f"{shape.words}, {condition.short}", left, top + 13.0)
        + f'<clipPath id="{clip}"><rect x="{x:.1f}" y="{y:.1f}" width="{right - x:.1f}" '
        f'height="{bottom - y:.1f}"/></clipPath><g clip-path="url(#{clip})">'
        + elevation_svg(condition.shapes, condition.built, view, _says(study, condition))
        + "</g>"
        + f'<rect x="{x:.1f}" y="{y:.1f}" width="{right - x:.1f}" height="{bottom - y:.1f}" '
        f'fill="none" stroke="{NEUTRAL}"/>'
        + _scale_bar(study, scale, right - 8.0, bottom + 18.0, 70.0),
        bottom + 26.0,
    )


def _window(shape: Any, view: View) -> str:
    corners = view.place([shape.low, shape.high])
    (x1, y2), (x2, y1) = corners
    return (
        f'<rect x="{x1:.1f}" y="{y1:.1f}" width="{x2 - x1:.1f}" height="{y2 - y1:.1f}" '
        f'fill="none" stroke="{NEUTRAL}" stroke-dasharray="1 3"/>'
    )


def _title(words: str, x: float, y: float) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="12" font-weight="bold">{escape(words)}</text>'


_IN_INCHES = {4.0: "4", 2.0: "2", 1.0: "1", 0.5: "1/2", 0.25: "1/4", 0.125: "1/8", 0.0625: "1/16"}
"""Lengths of a bar of scale, and how they are said."""


def _scale_bar(study: Study, scale: float, right: float, y: float, longest: float) -> str:
    """Draw a bar of a round length that ends at ``right``."""
    factor = 1.0 if study.units == "mm" else 25.4
    power = 10.0 ** np.floor(np.log10(longest / scale))
    rounds = [f * power for f in (5.0, 2.0, 1.0)] if factor == 1.0 else list(_IN_INCHES)
    size = next((f for f in rounds if f * factor * scale <= longest), rounds[-1])
    left = right - size * factor * scale
    words = f"{size:g} mm" if factor == 1.0 else f"{_IN_INCHES[size]} in"
    return (
        f'<path d="M{left:.1f} {y - 4:.1f}v4H{right:.1f}v-4" fill="none" stroke="{INK}" '
        f'stroke-width="1.3"/><text x="{left - 5:.1f}" y="{y + 1:.1f}" font-size="11" '
        f'text-anchor="end">{words}</text>'
    )


def _words(description: str, conditions: Sequence[Condition], details: bool, many: str) -> str:
    """Say what the figure shows, for a caption."""
    head = description.split("\n")[0].rstrip(".")
    parts = [f"{head}, to scale; lines as drawn, shading where {SHADED} {many} as built lie"]
    if len(conditions) > 1:
        parts.append(f"below it, {conditions[1].title[0].lower()}{conditions[1].title[1:]}")
    if details:
        parts.append("details are larger")
    return "; ".join(parts)


def _labels(condition: Condition) -> str:
    """Say what is labelled, for those who cannot see it."""
    labels = [shape.words for shape in condition.shapes if kind_of(shape) == "Text"]
    return f"labelled: {', '.join(dict.fromkeys(labels))}"


def _document(parts: Sequence[str], height: float, words: str) -> str:
    return shown(
        '<?xml version="1.0" encoding="utf-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}" height="{height:.0f}" '
        f'viewBox="-4 0 {WIDTH + 8:g} {height:.0f}" font-family="{FONT}" fill="{INK}">'
        f"<title>{escape(words)}</title>"
        f'<rect x="-4" width="{WIDTH + 8:g}" height="{height:.0f}" fill="#ffffff"/>'
        + "\n".join(parts)
        + "</svg>\n"
    )
