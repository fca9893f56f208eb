"""What readings say: predictions on sampled trucks, belief over faults, misfit, the next check, for and against.

Values in, values out. What a check is called and costs, and when a walk ends, is not decided here.
"""
