"""A change read from text, what it would bring, the changes worth offering, a test held against an earlier one."""
