"""Deeds on customers, vehicles and identifications."""
