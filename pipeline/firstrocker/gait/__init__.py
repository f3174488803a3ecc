"""Motion in, strides and their measures out."""
