"""Answers of the open services: features and observations, with their filter language."""
