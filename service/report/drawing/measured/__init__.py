"""What is measured, drawn into a figure: angles, marks, the part of the body, bars, a yardstick."""
