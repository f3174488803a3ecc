"""The pages: one module per part of the way; each function takes a visit and gives an answer."""
