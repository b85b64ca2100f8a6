"""The printed calibration sticker, and what it tells about a photo."""
