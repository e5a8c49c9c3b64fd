"""What ``models`` and ``processes`` print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import wrap

from rich.console import Console

from sensitivity.presentation import wording
from sensitivity.presentation.model_words import (
    declared_in_words,
    folded,
    in_shop_words,
    range_in_words,
)
from sensitivity.presentation.terminal import console, new_table
from sensitivity.spreads.workshop import WorkshopEntry, deviation_in_words
from sensitivity.system.catalogue import Model, Quantity

WIDEST_TEXT = 100
"""Columns beyond which running text is hard to read."""


def show_models(models: Iterable[Model]) -> None:
    """Print the models at hand, one line each."""
    table = new_table("Models at hand", "model", "what it computes")
    for model in models:
        first = in_shop_words(model.description.split("\n\n")[0])
        table.add_row(model.name, " ".join(first.split()))
    out = console()
    out.print(table)
    out.print(
        'models = ["NAME"] in a study; "spiritlevel models NAME" says what one takes and gives.',
        style="dim",
    )


def show_model(model: Model) -> None:
    """Print one model: what it computes, its inputs and results, and how it is computed."""
    out = console()
    width = min(out.width, WIDEST_TEXT)
    first, _, rest = in_shop_words(model.description).partition("\n\n")
    out.print(model.name, style="bold")
    out.print()
    out.print(folded(first, width))
    out.print()
    inputs = new_table("Inputs", "input", "default", "what it is", right=(1,))
    for quantity in model.arguments:
        default = "none"
        if quantity.default is not None:
            default = wording.with_unit(wording.significant(quantity.default), quantity.unit)
        elif quantity.unit:
            default = f"none, in {quantity.unit}"
        inputs.add_row(quantity.name, default, _said_of_an_input(quantity))
    out.print(inputs)
    results = new_table("Results", "result", "in", "what it is")
    for quantity in model.results:
        gauged = f"; gauged as {quantity.read_as}" if quantity.read_as else ""
        results.add_row(quantity.name, quantity.unit or "a number", quantity.meaning + gauged)
    out.print(results)
    if rest.strip():
        out.print("How it is computed", style="bold")
        out.print()
        out.print(folded(rest, width))


def _said_of_an_input(quantity: Quantity) -> str:
    parts = (
        quantity.meaning,
        range_in_words(quantity.range.stated, quantity.unit),
        declared_in_words(quantity),
    )
    return "; ".join(part for part in parts if part)


HEADS = {
    "process": 'Processes, how a dimension is made: process = "NAME" in [inputs.DIMENSION]',
    "instrument": 'Instruments, what reads it: measured = "8.2 mm" with instrument = "NAME"',
}


def show_processes(kinds: Sequence[tuple[str, Sequence[WorkshopEntry]]]) -> None:
    """Print entries of the workshop table with sources, under the name to write in a study.

    Parameters
    ----------
    kinds : sequence of (str, sequence of WorkshopEntry)
        ``process`` or ``instrument``, and its entries.
    """
    out = console()
    for kind, entries in kinds:
        if entries:
            out.print(HEADS[kind], style="bold")
            out.print()
        for entry in entries:
            _show_entry(out, entry)
    out.print(
        "\n".join(
            wrap(
                "Minutes at the bench to hold or read one dimension are a judgement; those for a "
                "jig are spent once for all that it holds.",
                min(out.width, WIDEST_TEXT),
            )
        ),
        style="dim",
    )


def _show_entry(out: Console, entry: WorkshopEntry) -> None:
    """Print one entry: its name, what it is, how far it strays, its minutes and its source."""
    minutes = f"{entry.minutes:g} min"
    if entry.making:
        minutes += f" and {entry.making:g} min for the jig"
    sizes = ""
    if entry.sizes is not None:
        sizes = f"; takes {entry.sizes[0]:g} to {entry.sizes[1]:g} mm"
    out.print(f"  {entry.name}", style="bold")
    for text in (
        entry.says,
        f"{deviation_in_words(entry)}; {minutes}{sizes}",
        f"source: {entry.source}",
    ):
        for line in wrap(
            text, min(out.width, WIDEST_TEXT), initial_indent=" " * 6, subsequent_indent=" " * 6
        ):
            out.print(line)
    out.print()
