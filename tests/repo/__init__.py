"""Tests of the checkout itself."""
