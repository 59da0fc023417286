"""What goes wrong in paths of points, and is mended: sides exchanged, outliers, gaps, noise."""
