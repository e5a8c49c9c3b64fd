"""Loaded once by the process that others are forked from, so that each begins at once.

Importing it loads what every task needs: the installed models, the units, the engine. Then it tries
its hand at a study of its own: what is read or compiled but once is so in all that are forked.
"""

from __future__ import annotations

import contextlib
from pathlib import Path

from sensitivity.drawing_board import thinking
from sensitivity.drawing_board.edits import Change, changed
from sensitivity.drawing_board.session import read_sheet
from sensitivity.errors import SpiritlevelError
from sensitivity.study.starter import starter_study
from sensitivity.system.catalogue import installed_model, installed_points
from sensitivity.system.setting_out import setting_out_of
from sensitivity.system.system import wire

PRACTICE = Path("practice.toml")
"""No file stands there."""


def practise(name: str) -> bool:
    """Begin a study of one installed model with the examples given as it asks for them; do it."""
    text = starter_study(wire((installed_model(name),)), "mm")
    asked = [fault for fault in read_sheet(text, PRACTICE, ()).faults if fault.asked]
    given = [
        Change(tuple(fault.key.split(".")), fault.asked.example.strip('"'))
        for fault in asked
        if fault.asked
    ]
    study = read_sheet(changed(text, given), PRACTICE, ()).study
    if study is not None:
        thinking.quick(study)
    return study is not None


for name in installed_points():
    with contextlib.suppress(SpiritlevelError):
        setting_out_of([installed_model(name)])
for name in installed_points():
    with contextlib.suppress(SpiritlevelError):
        if practise(name):
            break
