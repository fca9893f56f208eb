"""Hours of a live bus come in small batches; what gathers between them must neither grow nor change the result."""

import msgspec

from linkcheck.practice import simulate
from linkcheck.traffic import Analysis, Options


def test_thousands_of_small_batches_give_what_one_batch_gives():
    batch = simulate("healthy", seconds=40).batch
    whole, small = Analysis(Options()), Analysis(Options())
    whole.eat(batch)
    for at in range(0, len(batch), 5):
        small.eat(batch.take(slice(at, at + 5)))
    assert msgspec.to_builtins(small.result()) == msgspec.to_builtins(whole.result())
