"""What is to be done with an archive: pieces of its files, and what has changed since."""
