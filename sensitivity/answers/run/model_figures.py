"""Figures that models bring: found the same way as models, drawn in the house's style.

A model's figure is a plain function ``draw(axes, nominal, parts)``: ``nominal`` holds the
model's arguments as numbers, ``parts`` the same arguments as arrays (n,) over a sample of
parts (a held one as a number; per-step ones with the step as first axis). The first line of
its docstring says what it shows. The engine knows no more of it than that.
"""

from __future__ import annotations

import inspect

import numpy as np

from sensitivity.engine.result import Result
from sensitivity.presentation.figure_style import figure_style, in_units, new_figure, to_svg
from sensitivity.presentation.left_out import left_out_if_it_fails
from sensitivity.system.catalogue import companion
from sensitivity.system.system import Values

PARTS = 256
"""Parts that a figure is drawn from: enough for a band, few enough to be quick."""


def model_figures(result: Result) -> dict[str, tuple[str, str]]:
    """Draw every figure that the study's models bring: SVG text and what it shows, by name."""
    system = result.plan.system
    nominal: Values = {item.name: item.nominal for item in result.study.inputs}
    nominal = {**nominal, **result.study.nominal_results()}
    parts: Values = {
        name: result.sample[name][:PARTS] if name in result.sample else value
        for name, value in nominal.items()
    }
    drawn = {}
    for model in system.models:
        draw = None
        with left_out_if_it_fails(f'figure of model "{model.name}"', None):
            draw = companion(model, "figure")
        if draw is None:
            continue
        with (
            left_out_if_it_fails(f'figure of model "{model.name}"', draw),
            figure_style(),
            np.errstate(all="ignore"),
        ):
            figure = new_figure(6.4, 3.6)
            axes = figure.subplots()
            draw(axes, system.arguments(model, nominal), system.arguments(model, parts))
            in_units(axes, result.study.units)
            words = (inspect.getdoc(draw) or model.name).split("\n")[0].rstrip(".")
            drawn[model.name] = (to_svg(figure, model.name), words)
    return drawn
