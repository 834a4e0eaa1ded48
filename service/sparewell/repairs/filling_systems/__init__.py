"""Filling systems over HTTP: the shipped ones to read, the workshop's own to write."""
