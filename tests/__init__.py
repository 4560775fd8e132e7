"""Tests of the packages optimizer and api."""
