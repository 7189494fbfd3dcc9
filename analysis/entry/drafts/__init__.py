"""What is being entered, can by can, on disk."""
