"""``processes``: the workshop table."""

from __future__ import annotations

from sensitivity.commands.boundary import guarded


@guarded
def processes() -> None:
    """The workshop's processes and instruments, with sources."""
    from sensitivity.screen.catalogue import show_processes
    from sensitivity.workshop import workshop_table

    show_processes(workshop_table("process").values(), workshop_table("instrument").values())
