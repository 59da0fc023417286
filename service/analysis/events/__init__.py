"""When what happens: the swing in the clip, its orientation, its positions."""
