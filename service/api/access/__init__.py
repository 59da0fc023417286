"""Who may ask for what, how often, and what every answer tells the browser about itself."""
