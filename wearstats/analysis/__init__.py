"""The statistics: arrays and checked frames in, frozen results out; no store, no charts, no files."""
