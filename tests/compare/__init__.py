"""Boards against one another."""
