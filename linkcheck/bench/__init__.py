"""The bench test of an adapter: two interfaces on a harness, A under test and B trusted, and a sheet of figures.

Frames and figures (`frames`, `ledger`, `figures`), the harness (`harness`), what is tried on it (`rows_*`), the whole
run (`run`), hands and instruments (`hands`, `scpi`), emulated adapters (`simulation`), the sheet and the record.
Transmits: only ever on a bench.
"""
