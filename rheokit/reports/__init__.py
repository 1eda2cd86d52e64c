"""Pages about a check, made from its Record alone."""
