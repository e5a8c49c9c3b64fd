"""Pricing: what several answers rest on, each on the same uniforms."""
