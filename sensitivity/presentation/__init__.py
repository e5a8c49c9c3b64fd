"""Presentation: one table model and its writers, words, figures' style, drawings, the folder."""
