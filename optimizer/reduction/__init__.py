"""Stage 3: rows that some best answer does without leave, by theorems with their conditions.

Works on a table that knows no ring; only `from_ratings` has seen one.
"""
