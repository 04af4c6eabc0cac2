"""Addresses of other programs that are told what changed."""
