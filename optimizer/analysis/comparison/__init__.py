"""Answers side by side; nothing is judged or solved."""
