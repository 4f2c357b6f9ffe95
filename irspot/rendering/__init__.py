"""Pictures. They draw readings; they never measure."""
