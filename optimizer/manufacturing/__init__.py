"""Shop data of each ring part: blank, jaws, seat, screws, what to inspect.

Knows study and answer; never a drawing or a file.
"""
