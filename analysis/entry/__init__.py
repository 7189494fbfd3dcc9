"""What is being entered: drafts on disk, pasted and file tables, from a draft to a record."""
