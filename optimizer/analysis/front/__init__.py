"""Every answer that no other answer beats on every wish, found cell by cell.

`axes` says what is minimised and in what steps ceilings come down, `front` solves, `models` is what comes
out. It knows `comparison` for the sentence between two points.
"""
