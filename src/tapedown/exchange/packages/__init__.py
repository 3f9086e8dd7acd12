"""Packages of files: manifest and archive, and what others' packages hold."""
