"""What a player may expect of those who keep their data: an end, and backups that end too."""
