"""Questions asked once, kept so that they can be asked again."""
