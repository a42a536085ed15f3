"""Deeds on forecasts and reminders."""
