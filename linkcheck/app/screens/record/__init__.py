"""The record page."""
