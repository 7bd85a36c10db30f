"""What may be remarked of wear."""

from enum import StrEnum


class WearRemark(StrEnum):
    """Why a number of wear is as it is, or is none."""

    UNWORN_NOT_ASKED = "unworn-share-not-asked"
    UNWORN_NOT_NEW = "unworn-unlike-new"
    UNWORN_NO_FAMILY = "unworn-no-family-fits"
    UNWORN_NOT_TOLD = "unworn-not-told-from-worn"
    UNWORN_WEIGHT = "unworn-weight-in-mixture"
