"""Tests of the page in a browser, against a server in a process of its own."""
