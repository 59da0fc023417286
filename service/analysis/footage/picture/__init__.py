"""What a picture was put through: squeezed, enlarged, cut out, its places smoothed."""
