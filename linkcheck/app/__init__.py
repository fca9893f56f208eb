"""The screens: what a technician opens in the morning. Nothing is computed here; rooms below do that.

`main` wires pages together. A page is a folder of `screens/` and a row in `screens/__init__.py`.
"""
