"""What `import evenfall` hands out: records in, results as frames, arrays and figures out."""
