"""The trade's bench: what a failure looks like, and trials worth making, brought to the engine.

The words and procedures stand in ``bench.toml`` beside this file.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

BENCH: Mapping[str, Any] = tomllib.loads(
    files("models").joinpath("bench.toml").read_text(encoding="utf-8")
)
"""``symptoms``: words by result; ``trials``: procedures with what each reads."""
