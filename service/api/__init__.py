"""HTTP only: routes, answer models and problem details."""
