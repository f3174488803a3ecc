"""Studies and results as Brain Imaging Data Structure datasets, for whoever works with that standard."""
