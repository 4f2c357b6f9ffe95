"""What each zone reads, on the camera's own pixels, with its uncertainty."""
