"""Scenes of known truth: invented boards, their heat, and the frames a camera would take of them."""
