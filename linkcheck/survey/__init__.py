"""The analysis over files: one capture from path to result, with progress, cancelling, and a partial answer."""

from linkcheck.survey.capture_file import CaptureFile

__all__ = ["CaptureFile"]
