"""Answers: one room each, and what all of them share."""
