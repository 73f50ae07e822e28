"""Moist air."""
