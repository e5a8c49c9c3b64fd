"""Figures: plain functions from answers to axes, in one style."""
