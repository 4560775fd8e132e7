"""Drawings of ring parts and robots: one drawing model, written as SVG and as PDF.

A sheet is a list of lines, circles and labels in mm on paper, x to the right, y down, by the ideas of
ISO 128 (lines, views), ISO 5455 (scales), ISO 5457 (sheet sizes), ISO 7200 (title block).
"""
