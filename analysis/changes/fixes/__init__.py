"""The changes worth offering."""
