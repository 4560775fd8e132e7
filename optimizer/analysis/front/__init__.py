"""Every answer that no other answer beats on every wish, found cell by cell.

`front` solves, `models` is what comes out. It knows `comparison` for the sentence between two points.
"""
