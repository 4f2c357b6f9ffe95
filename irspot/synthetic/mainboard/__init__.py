"""Invented mainboards made from a handful of numbers."""
