"""Tests of what reads files."""
