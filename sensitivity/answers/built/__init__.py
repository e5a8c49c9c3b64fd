"""The answer of ``built``."""
