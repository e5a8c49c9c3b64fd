"""The answer of ``run``."""
