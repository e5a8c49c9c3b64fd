"""How much of each thing a study may have: far more than a builder states, and no more.

What is computed before any sampling grows with the square of some of them.
"""

MOST_MODELS = 50
MOST_INPUTS = 200
MOST_LIMITS = 100
MOST_READINGS = 100
MOST_STEPS = 60
MOST_CORRELATIONS = 200
MOST_SIZES = 100
LARGEST_STUDY = 128 << 10
"""Bytes; a study is a page or two."""

LONGEST_NAME = 100
LONGEST_TITLE = 500
LONGEST_TEXT = 5000
"""Characters of a basis or a reason."""
