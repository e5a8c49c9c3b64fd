"""Answers priced in yield, each on the same uniforms as the design it is about."""
