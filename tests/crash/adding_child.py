"""Adds readings to a job for ever and says the number of each on standard output once `add` has returned.

Run as: python adding_child.py FILE JOB
"""

import sys

from linkcheck.jobs.store import open_store
from linkcheck.walk.messages import Answer


def main():
    with open_store(sys.argv[1]) as store:
        job = store.open(sys.argv[2])
        count = len(job.record.walk.answers)
        while True:
            count += 1
            job.add(Answer("volts:B-A:key_off", f"{count}"))
            sys.stdout.write(f"{count}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
