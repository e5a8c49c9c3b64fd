"""A starter study: every input of the named models with its default, unit and meaning."""

from __future__ import annotations

from sensitivity.system.catalogue import Quantity
from sensitivity.system.system import System


def starter_study(system: System) -> str:
    """Write a study that runs ``check`` as it stands and waits for spreads and limits.

    Parameters
    ----------
    system : System
        The models, joined.

    Returns
    -------
    str
        The text of a study file.
    """
    names = [model.name for model in system.models]
    title = " and ".join(name.replace("_", " ") for name in names)
    listed = ", ".join(f'"{name}"' for name in names)
    lines = [
        f'title  = "{title}"',
        f"models = [{listed}]",
        "",
        "# State a spread for what varies, one way an input, and on whose word:",
        '#   plus_minus = "0.25 mm"            or  process = "filed_to_a_height_gauge_line"',
        '#   basis = "scribed with a height gauge, filed to the line"',
        '# plus_minus alone is rectangular: anywhere within, equally likely; with shape = "normal"',
        "# 997 of 1000 lie within. An input without a spread is held exactly at its nominal.",
        '# kind = "build" (yours to hold), "running" (live with it) or "model" (what the physics',
        "# does not know: spiritlevel models NAME says how far; state its spread too).",
    ]
    for quantity in system.inputs:
        lines += ["", f"[inputs.{quantity.name}]  # {quantity.meaning}"]
        lines += _stated(quantity)
    lines += ["", "# What must hold, and why; the results to choose from:"]
    for quantity in system.results:
        unit = f" {quantity.unit}" if quantity.unit else ""
        lines += [
            f"# [limits.{quantity.name}]  # {quantity.meaning}",
            f'# at_least = "0{unit}"',
        ]
    return "\n".join(lines) + "\n"


def _stated(quantity: Quantity) -> list[str]:
    """Write an input's nominal, and what the model declares of its kind and its spread."""
    if quantity.default is None:
        return [f'# nominal = "... {quantity.unit}"  # the model has no default']
    if quantity.unit:
        lines = [f'nominal = "{quantity.default!r} {quantity.unit}"']
    else:
        lines = [f"nominal = {quantity.default!r}"]
    lines += [f"{key} = {_toml(value)}" for key, value in quantity.spread]
    if quantity.kind is not None:
        lines.append(f'kind = "{quantity.kind}"')
    if quantity.spread:
        lines.append('basis = "as the model declares it; see its description"')
    return lines


def _toml(value: object) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(map(_toml, value))}]"
    return f'"{value}"' if isinstance(value, str) else f"{value!r}"
