"""What may be remarked of forecasts."""

from enum import StrEnum


class ForecastRemark(StrEnum):
    """Why something is not foretold, or not hub by hub."""

    NO_GAPS = "forecast-no-gaps"
    FEW_FAILURES = "forecast-few-failures"
    NOT_BY_HUB = "forecast-not-hub-by-hub"
    CURRENCIES = "forecast-several-currencies"
