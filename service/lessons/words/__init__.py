"""How anything is said to a player: measures and views, reasons, what to film instead."""
