"""What a coach does with a recap."""
