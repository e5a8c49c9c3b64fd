"""The answer of ``tighten``."""
