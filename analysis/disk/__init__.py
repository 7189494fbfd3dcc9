"""Where things are kept on disk: one way to open an SQLite file, whatever is in it."""
