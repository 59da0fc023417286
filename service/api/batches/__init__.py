"""What the routes of batches need: bodies put aside, results streamed in one form or another."""
