"""JSON as text becomes values: short and long bodies, frames as arrays, names sent twice."""
