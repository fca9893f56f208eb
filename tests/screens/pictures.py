"""Pictures of every page for the README: `python tests/screens/pictures.py` writes `.ci/pictures/`.

They are snapshots, so the tests hold that they show the app as it is. What they show is invented.
"""

from pathlib import Path

SNAPSHOTS = Path(__file__).parent / "snapshots"
FOLDER = Path(__file__).parents[2] / ".ci" / "pictures"
PICTURES = {
    "jobs": "jobs-120x40",
    "walk": "walk-volts-120x40",
    "finding": "walk-found-120x40",
    "traffic": "traffic-findings-120x40",
    "practice": "practice-advice-120x40",
    "record": "record-120x40",
}


def main():
    FOLDER.mkdir(exist_ok=True)
    for page, snapshot in PICTURES.items():
        (FOLDER / f"{page}.svg").write_bytes((SNAPSHOTS / f"{snapshot}.svg").read_bytes())


if __name__ == "__main__":
    main()
