"""What a player may expect of those who keep their data: consent, an audit, an end, backups."""
