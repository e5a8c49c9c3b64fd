"""Spreads: how one input varies, and on whose word."""
