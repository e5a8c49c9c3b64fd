"""The labelled drawing: where every dimension of a design is, each with its sketch number.

The views come with the models (``system/setting_out``). Each is an SVG of its own, as wide as a
phone, so that a page can lay them side by side or under each other; ``labelled_sheet`` lays them
on one sheet. A dimension is a group with the class ``dimension``, an id and ``data-input``.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import escape

from sensitivity.errors import ModelError
from sensitivity.presentation import wording
from sensitivity.presentation.drawing import FONT
from sensitivity.presentation.elevation import fault_of, kind_of
from sensitivity.presentation.figure_style import INK
from sensitivity.presentation.labelled_layout import WIDTH, view_svg
from sensitivity.presentation.labelled_marks import Named
from sensitivity.presentation.left_out import left_out_if_it_fails
from sensitivity.presentation.texts import shown
from sensitivity.presentation.units_said import said_by
from sensitivity.study.study import Input, Study
from sensitivity.system.setting_out import LabelledView, setting_out_of, sketch_numbers
from sensitivity.system.system import System

HEAD, ROW = 18.0, 14.0
"""Room for a title above a view, and for a line of what its numbers are, px."""

NONE_GIVEN: Mapping[str, str] = {}
NO_SIZES: Mapping[str, float] = {}

THERE = 0.4
"""Of what may be nought, in a drawing that shows where it would be, in its model's unit."""

Says = Callable[[Input], str]
"""Writes an input's nominal with its unit."""


@dataclass(frozen=True, slots=True)
class DrawnView:
    """One view as drawn.

    Attributes
    ----------
    title : str
    svg : str
        A whole SVG element, as wide as ``WIDTH``.
    height : float
        In px.
    names : tuple of str
        The inputs that have their dimension in this view, in the order of their numbers.
    elements : str
        What is in the SVG element.
    legend : tuple of (int, str)
        Each sketch number and what it is, in words.
    """

    title: str
    svg: str
    height: float
    names: tuple[str, ...]
    elements: str
    legend: tuple[tuple[int, str], ...]


def labelled_views(
    study: Study, says: Says | None = None, *, prefix: str = "dimension-"
) -> tuple[DrawnView, ...]:
    """Draw the labelled views of a study at its nominals.

    An input that the study leaves at a model's nought (an error, a thing that is not there) has no
    label; a size that is the model's own, of some other engine, has a question mark.

    Parameters
    ----------
    study : Study
        Whose nominals are drawn.
    says : callable
        Writes an input's nominal with its unit; by default as ``units_said`` does.
    prefix : str
        Of the ids, for a page with several drawings.
    """
    design: dict[str, float] = {item.name: item.nominal for item in study.inputs}
    design |= study.nominal_results()
    needs = setting_out_of(study.system.models).needs
    absent = {name for name, other in needs.items() if design.get(other) == 0.0}
    says = says or said_by(study).drawn
    values = {
        item.name: f"{says(item)}?" if item.borrowed else says(item)
        for item in study.inputs
        if item.name not in absent and not _left_at_nought(item)
    }
    return _views(study.system, design, values, prefix)


def blank_views(
    system: System,
    given: Mapping[str, str] = NONE_GIVEN,
    *,
    sizes: Mapping[str, float] = NO_SIZES,
    without: Collection[str] = (),
    prefix: str = "dimension-",
) -> tuple[DrawnView, ...]:
    """Draw the labelled views of models with usual sizes, every dimension a line to write on.

    ``given`` are the values, as text, of those that are given already, and ``sizes`` those to
    which it is drawn; what it is ``without`` has no label.
    """
    design = {q.name: q.default for q in system.inputs if q.default is not None} | dict(sizes)
    truths = {quantity.name for quantity in system.inputs if quantity.yes_or_no}
    for other in setting_out_of(system.models).needs.values():
        if other in design and other not in truths:
            design[other] = max(design[other], THERE)  # shown with what goes with it
    if len(design) == len(system.inputs):
        results = system.evaluate(dict(design))
        design |= {name: float(np.ravel(value)[0]) for name, value in results.items()}
    values = {q.name: given.get(q.name, "") for q in system.inputs if q.name not in without}
    return _views(system, design, values, prefix)


def _left_at_nought(item: Input) -> bool:
    return item.nominal == 0.0 and not item.given


def _views(
    system: System, design: Mapping[str, float], values: Mapping[str, str], prefix: str
) -> tuple[DrawnView, ...]:
    meanings = {quantity.name: quantity.meaning for quantity in system.inputs}
    left = {
        name: Named(name, number, values[name], f"{wording.in_words(name)}: {meanings[name]}")
        for name, number in sketch_numbers(system).items()
        if name in values
    }
    found = []
    for place, view in enumerate(setting_out_of(system.models).views, 1):
        with left_out_if_it_fails(f'labelled view "{view.title}"', view.draw):
            drawn = _view(view, design, left, f"{prefix}{place}-", prefix)
            if drawn is not None:
                found.append(drawn)
                left = {name: each for name, each in left.items() if name not in drawn.names}
    return tuple(found)


def _view(
    view: LabelledView,
    design: Mapping[str, float],
    left: Mapping[str, Named],
    clip: str,
    prefix: str,
) -> DrawnView | None:
    """Draw one view; None where it has no dimension that is not in a view before it."""
    with np.errstate(all="ignore"):
        shapes = tuple(view.draw(design))
    for shape in shapes:
        if wrong := fault_of(shape):
            raise ModelError(f'the labelled view "{view.title}" returned {wrong}')
    here = {name: left[name] for name in _names(shapes) if name in left}
    if not here:
        return None
    elements, height = view_svg(shapes, here, prefix, clip=clip)
    title = escape(view.title)
    elements = (
        f'<text x="4" y="13" font-size="12" font-weight="bold">{title}</text>'
        f'<g transform="translate(0 {HEAD:g})">{elements}</g>'
    )
    names = tuple(sorted(here, key=lambda name: here[name].number))
    listed = ", ".join(f"{here[name].number} {wording.in_words(name)}" for name in names)
    words = escape(f"{view.title}: {listed}")
    svg = shown(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="labelled" role="img" '
        f'width="{WIDTH:g}" height="{height + HEAD:.0f}" '
        f'viewBox="0 0 {WIDTH:g} {height + HEAD:.0f}" font-family="{FONT}" fill="{INK}">'
        f"<title>{words}</title>"
        f'<rect width="{WIDTH:g}" height="{height + HEAD:.0f}" fill="#ffffff"/>{elements}</svg>'
    )
    legend = tuple((here[name].number, wording.in_words(name)) for name in names)
    return DrawnView(view.title, svg, height + HEAD, names, elements, legend)


def _names(shapes: Sequence[Any]) -> list[str]:
    """Every name that has a dimension or a leader."""
    found: list[str] = []
    for shape in shapes:
        if kind_of(shape) == "Dimension":
            found.append(shape.name)
        elif kind_of(shape) == "Leader":
            found += shape.names
    return found


def _legend_rows(view: DrawnView) -> int:
    return -(-len(view.legend) // 2)


def _legend(view: DrawnView, left: float, top: float) -> str:
    """What the numbers of a view are, in two columns."""
    rows = _legend_rows(view)
    return "".join(
        f'<text x="{left + 8 + (place // rows) * WIDTH / 2:.1f}" '
        f'y="{top + ROW * (place % rows) + 10:.1f}" font-size="10">'
        f'<tspan font-weight="bold">{number}</tspan> {escape(words)}</text>'
        for place, (number, words) in enumerate(view.legend)
    )


def labelled_sheet(views: Sequence[DrawnView], title: str, columns: int = 2) -> str:
    """Lay views on one sheet, each in the column that is shortest so far; a whole SVG file.

    Under each view stands what its numbers are.
    """
    gap = 16.0
    columns = max(1, min(columns, len(views)))
    tops = [28.0] * columns
    parts = [f'<text x="4" y="17" font-size="14" font-weight="bold">{escape(title)}</text>']
    for view in views:
        column = tops.index(min(tops))
        x = column * (WIDTH + gap)
        parts.append(f'<g transform="translate({x:g} {tops[column]:.1f})">{view.elements}</g>')
        tops[column] += view.height
        parts.append(_legend(view, x, tops[column]))
        tops[column] += ROW * _legend_rows(view) + gap
    width, height = columns * (WIDTH + gap) - gap, max(tops)
    return shown(
        '<?xml version="1.0" encoding="utf-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:.0f}" '
        f'viewBox="-6 0 {width + 12:g} {height:.0f}" font-family="{FONT}" fill="{INK}">'
        f"<title>{escape(title)}</title>"
        f'<rect x="-6" width="{width + 12:g}" height="{height:.0f}" fill="#ffffff"/>'
        + "\n".join(parts)
        + "</svg>\n"
    )
