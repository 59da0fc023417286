"""Commands on what is kept: the tables, who may use them, what becomes of it."""
