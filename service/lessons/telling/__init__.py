"""What a lesson tells: cause and effect, what to work on first, and the texts of each fault."""
