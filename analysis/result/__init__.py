"""From a record to its result, and the result as JSON, text and tables."""
