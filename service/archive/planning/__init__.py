"""What is to be done with an archive: its files, their pieces, and what has changed since."""
