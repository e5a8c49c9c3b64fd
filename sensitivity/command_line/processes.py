"""``processes``: the workshop table."""

from __future__ import annotations

from sensitivity.command_line.boundary import guarded


@guarded
def processes() -> None:
    """The workshop's processes and instruments, with sources."""
    from sensitivity.command_line.catalogue_screen import show_processes
    from sensitivity.spreads.workshop import workshop_table

    show_processes(workshop_table("process").values(), workshop_table("instrument").values())
