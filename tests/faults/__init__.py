"""Faults made by machine: whether the tests of each room see them."""
