"""How hot each zone of a circuit board gets, from infrared frames, with an honest uncertainty."""
