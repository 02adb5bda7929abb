"""Studies: one question put to the whole section library, answered by tables and a picture that are made anew by one command."""
