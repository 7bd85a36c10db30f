"""What may be remarked of how batches came out."""

from enum import StrEnum


class SpreadRemark(StrEnum):
    """What it is learnt from, or why it is not."""

    OF_GAUGED = "batch-spread-of-gauged-hubs"
    OF_PLUGS = "batch-spread-of-plug-gauges"
    ONE_EACH = "batch-spread-one-hub-each"
    ONE_BATCH = "batch-spread-one-batch"
