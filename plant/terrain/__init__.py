"""Kinds of ground, one per file: a frozen record of sizes with one method that gives heights over distance."""
