"""Stages of a job, the bills that go out for them, and files for whoever keeps the books."""
