"""Signals of thousands of drawn rings, to check the budget and to tell yields."""
