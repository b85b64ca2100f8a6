"""The record: people as codes, their wounds, visits, photos, outlines, numbers and findings, with who and when."""
