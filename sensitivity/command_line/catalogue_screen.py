"""What ``models`` and ``processes`` print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from textwrap import wrap

from rich.console import Console

from sensitivity.presentation.model_words import (
    declared_in_words,
    folded,
    in_shop_words,
    range_in_words,
)
from sensitivity.presentation.terminal import console, new_table
from sensitivity.presentation.units_said import Said
from sensitivity.presentation.workshop_words import sizes_too, strays
from sensitivity.spreads.workshop import WorkshopEntry
from sensitivity.study.study import Units
from sensitivity.system.catalogue import Model, Quantity
from sensitivity.system.together import exclusive, suppliers, takes_from

WIDEST_TEXT = 100
"""Columns beyond which running text is hard to read."""


def show_models(models: Iterable[Model]) -> None:
    """Print the models at hand, one line each, and which of them go together."""
    models = tuple(models)
    table = new_table("Models at hand", "model", "what it computes")
    for model in models:
        first = in_shop_words(model.description.split("\n\n")[0])
        table.add_row(model.name, " ".join(first.split()))
    out = console()
    out.print(table)
    out.print()
    taking = [(model.name, takes_from(model, models)) for model in models]
    if any(groups for _, groups in taking):
        table = new_table("Which go together", "model", "takes results of, where a study has both")
        for name, groups in taking:
            if groups:
                alone = [each for each in groups if len(each) == 1]
                several = [each for each in groups if len(each) > 1]
                words = [", ".join(map(_one_of, alone)), *map(_one_of, several)]
                table.add_row(name, "; ".join(each for each in words if each))
        out.print(table)
    for names in exclusive(models):
        out.print(f"Only one of these in a study, for they give the same: {', '.join(names)}.")
    out.print()
    out.print(
        'models = ["NAME"] in a study; "spiritlevel models NAME" says what one takes and gives.',
        style="dim",
    )


def _one_of(names: Sequence[str]) -> str:
    if len(names) == 1:
        return names[0]
    return f"one of {', '.join(names[:-1])} or {names[-1]}"


def show_model(model: Model, models: Sequence[Model], units: Units = "mm") -> None:
    """Print one model: what it computes, its inputs and results, and how it is computed.

    Parameters
    ----------
    model : Model
        As read.
    models : sequence of Model
        All that are at hand: what another of them supplies is listed apart.
    units : "mm" or "inch"
        In which its inputs and results are said; its equations keep their own.
    """
    out, said = console(), Said(units)
    width = min(out.width, WIDEST_TEXT)
    first, _, rest = in_shop_words(model.description).partition("\n\n")
    out.print(model.name, style="bold")
    out.print()
    out.print(folded(first, width))
    out.print()
    heads = ("input", "default", "what it is")
    inputs = new_table("Inputs", *heads, right=(1,))
    taken = new_table(
        "Inputs that another model supplies, where a study has both", *heads, right=(1,)
    )
    known = suppliers(models)
    for quantity in model.arguments:
        words, default = _said_of_an_input(quantity, said), _default(quantity, said)
        if by := [name for name in known.get(quantity.name, ()) if name != model.name]:
            words = f"supplied by {_one_of(by).removeprefix('one of ')}: {words}"
        (taken if by else inputs).add_row(quantity.name, default, words)
    for table in (inputs, taken):
        if table.row_count:
            out.print(table)
            out.print()
    results = new_table("Results", "result", "in", "what it is")
    for quantity in model.results:
        gauged = f"; gauged as {quantity.read_as}" if quantity.read_as else ""
        unit = said.of_unit(quantity.unit).unit
        plain = "yes or no" if quantity.yes_or_no else "a number"
        results.add_row(quantity.name, unit or plain, quantity.meaning + gauged)
    out.print(results)
    out.print()
    if rest.strip():
        out.print("How it is computed", style="bold")
        out.print()
        out.print(folded(rest, width))


def _default(quantity: Quantity, said: Said) -> str:
    manner = replace(said.of_unit(quantity.unit), yes_or_no=quantity.yes_or_no)
    if quantity.default is not None:
        return manner.text(quantity.default)
    return f"none, in {manner.unit}" if quantity.unit else "none"


def _said_of_an_input(quantity: Quantity, said: Said) -> str:
    parts = (
        quantity.meaning,
        "" if quantity.yes_or_no else range_in_words(quantity.range.stated, quantity.unit),
        declared_in_words(quantity, said),
    )
    return "; ".join(part for part in parts if part)


HEADS = {
    "process": 'Processes, how a dimension is made: process = "NAME" in [inputs.DIMENSION]',
    "instrument": 'Instruments, what reads it: measured = "SIZE" with instrument = "NAME"',
}


def show_processes(
    kinds: Sequence[tuple[str, Sequence[WorkshopEntry]]], units: Units = "mm"
) -> None:
    """Print entries of the workshop table with sources, under the name to write in a study.

    Parameters
    ----------
    kinds : sequence of (str, sequence of WorkshopEntry)
        ``process`` or ``instrument``, and its entries.
    units : "mm" or "inch"
        In which lengths are said.
    """
    out = console()
    for kind, entries in kinds:
        if entries:
            out.print(HEADS[kind], style="bold")
            out.print()
        for entry in entries:
            _show_entry(out, entry, Said(units))
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


def _show_entry(out: Console, entry: WorkshopEntry, said: Said) -> None:
    """Print one entry: its name, what it is, how far it strays, its minutes and its source."""
    minutes = f"{entry.minutes:g} min"
    if entry.making:
        minutes += f" and {entry.making:g} min for the jig"
    sizes = ""
    if entry.sizes is not None:
        low, high = (said.of_unit("mm").rough(end) for end in entry.sizes)
        sizes = f"; takes {low.rpartition(' ')[0]} to {high}"
    out.print(f"  {entry.name}", style="bold")
    for text in (
        sizes_too(entry.says, said),
        f"{strays(entry, said)}; {minutes}{sizes}",
        f"source: {entry.source}",
    ):
        for line in wrap(
            text, min(out.width, WIDEST_TEXT), initial_indent=" " * 6, subsequent_indent=" " * 6
        ):
            out.print(line)
    out.print()
