"""Tests of the line from study to judged answer."""
