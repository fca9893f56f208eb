"""Jobs: what a technician did and found, kept so that it cannot be lost; and the walk that goes on within one.

Light to import: what needs numpy or SQLite is in the modules.
"""
