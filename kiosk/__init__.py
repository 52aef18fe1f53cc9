"""Holdpoint: proof of vacuum hold before a CNC router may start."""
