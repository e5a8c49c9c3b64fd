"""The answer of ``measure``."""
