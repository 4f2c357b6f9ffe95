"""Board, camera and study files: read, validated, converted to the frozen values."""
