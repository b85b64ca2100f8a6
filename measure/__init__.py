"""From a photo beside a calibration sticker to wound measurements with their uncertainty."""
