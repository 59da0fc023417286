"""What is measured on a swing."""
