"""The write-up of a job: one value (`content`), composed from the job, and its faces: page, customer page, text, JSON.

Light to import: what needs numpy, jinja2 or matplotlib is in the modules.
"""
