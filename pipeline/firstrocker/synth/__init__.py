"""Walkers and sensors with a known truth, for the demo and the tests."""
