"""Tests of the JSON API: against real servers in processes of their own, on both stores."""
