"""Loaded once by the process that others are forked from, so that each begins at once.

Importing it loads what every task needs: the installed models, the units, the engine.
"""

from __future__ import annotations

import contextlib

from sensitivity.drawing_board import thinking  # noqa: F401 - all of the engine
from sensitivity.errors import SpiritlevelError
from sensitivity.system.catalogue import installed_model, installed_points

for name in installed_points():
    with contextlib.suppress(SpiritlevelError):
        installed_model(name)
