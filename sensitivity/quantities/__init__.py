"""Quantities: numbers with units, read strictly and said back."""
