"""What pictures are made of: SVG, figures, panels; `measured` what is drawn into them."""
