"""The whole job: a study run, one frame measured, the demo, the check."""
