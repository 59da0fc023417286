"""Pictures as SVG: a swing in a strip, one frame, a fault, what a coach drew."""
