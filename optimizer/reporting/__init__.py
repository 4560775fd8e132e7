"""Text and curves for people: answers, explanations, fronts, comparisons, simulations, progress.

Gets its data ready made and works nothing out; numbers are rounded only when they are written. Of the
analyses it may import what they return and their words, never a stage.
"""
