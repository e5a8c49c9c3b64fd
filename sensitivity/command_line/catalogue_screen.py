"""What ``models`` and ``processes`` print."""

from __future__ import annotations

from collections.abc import Iterable

from sensitivity.presentation import wording
from sensitivity.presentation.terminal import console, new_table
from sensitivity.spreads.workshop import WorkshopEntry, deviation_in_words
from sensitivity.system.catalogue import Model, Quantity


def show_models(models: Iterable[Model]) -> None:
    """Print the models at hand, one line each."""
    table = new_table("Models at hand", "model", "what it computes")
    for model in models:
        table.add_row(model.name, model.description.split("\n\n")[0].replace("\n", " "))
    console().print(table)


def show_model(model: Model) -> None:
    """Print one model: what it computes, its inputs and its results."""
    out = console()
    out.print(model.name, style="bold")
    out.print()
    out.print(model.description)
    out.print()
    inputs = new_table("Inputs", "input", "default", "unit", "range", "kind", "meaning", right=(1,))
    for quantity in model.arguments:
        default = "" if quantity.default is None else wording.significant(quantity.default)
        inputs.add_row(
            quantity.name,
            default,
            quantity.unit,
            quantity.range.stated,
            declared_in_words(quantity),
            quantity.meaning,
        )
    out.print(inputs)
    results = new_table("Results", "result", "unit", "gauged as", "meaning")
    for quantity in model.results:
        results.add_row(quantity.name, quantity.unit, quantity.read_as or "", quantity.meaning)
    out.print(results)


def declared_in_words(quantity: Quantity) -> str:
    """Write the kind that a model declares of an argument, and what it honestly varies by."""
    words = [str(quantity.kind or "")]
    for key, value in quantity.spread:
        ends = value if isinstance(value, tuple) else (value,)
        before = "± " if key in ("plus_minus", "lognormal") else ""
        words.append(before + " to ".join(map(str, ends)).replace("_", " "))
        words += ["lognormal"] if key == "lognormal" else []
    return ", ".join(words)


def show_processes(
    processes: Iterable[WorkshopEntry], instruments: Iterable[WorkshopEntry]
) -> None:
    """Print the workshop table with sources."""
    out = console()
    for title, entries in (
        ('Workshop processes: process = "..."', processes),
        ('Instruments: measured = "..." with instrument = "..."', instruments),
    ):
        table = new_table(title, "name", "what it is", "spread", "min", "source", right=(3,))
        for entry in entries:
            table.add_row(
                entry.name,
                entry.says,
                deviation_in_words(entry),
                f"{entry.minutes:g}" + (f" + {entry.making:g}" if entry.making else ""),
                entry.source,
            )
        out.print(table)
    out.print(
        "min: bench minutes to hold or read one dimension, a judgement; + for making the jig, once "
        "for all that it holds.",
        style="dim",
    )
