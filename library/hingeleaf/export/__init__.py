"""Panels as files at true size."""
