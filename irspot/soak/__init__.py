"""Soaking: how a temperature nears its end value after a load was put on, when it is steady, and how long it takes."""
