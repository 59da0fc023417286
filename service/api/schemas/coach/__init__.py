"""What coaches send and are answered."""
