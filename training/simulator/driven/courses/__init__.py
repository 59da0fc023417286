"""How the quantities of a swing go in time: strokes, the pendulum, and the plan of them all."""
