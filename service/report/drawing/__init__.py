"""What pictures are made of: SVG, figures, angles, marks, panels."""
