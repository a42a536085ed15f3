"""Deeds on visits and findings, quotes and consents, work orders."""
