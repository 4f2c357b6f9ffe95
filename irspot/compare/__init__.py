"""Boards held against one another: ranking with ties, limits by a decision rule, and who may not be compared."""
