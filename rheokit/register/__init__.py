"""The batch register: every check and every human decision, appended for good and chained by hashes."""
