"""Tests of the bench: blank tables and the entry page."""
