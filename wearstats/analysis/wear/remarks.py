"""What may be remarked of wear."""

from enum import StrEnum


class WearRemark(StrEnum):
    """Why a number of wear is as it is, or is none."""

    UNWORN_NOT_ASKED = "unworn-share-not-asked"
    UNWORN_FEW_SHAFTS = "unworn-few-shafts"
    UNWORN_NOT_NEW = "unworn-unlike-new"
    UNWORN_NO_FAMILY = "unworn-no-family-fits"
    UNWORN_NOT_TOLD = "unworn-not-told-from-worn"
    UNWORN_WEIGHT = "unworn-weight-in-mixture"
    INTEGRATED = "wear-few-shafts-integrated"
    AS_READ = "wear-mean-as-read"
    FITTED_LAW = "wear-fitted-law"
    SHAPE_FEW_SHAFTS = "shape-few-shafts"
    SHAPE_ALIKE = "shape-wear-alike"
    SHAPE_LINE = "shape-weighted-line"
    SERVED = "served-by-spread-of-losses"
    STATION_MEAN = "station-mean"
