"""What may be remarked of forecasts."""

from enum import StrEnum


class ForecastRemark(StrEnum):
    """Why something is not predicted, or not hub by hub; and how what was expected of a quarter was come by."""

    NO_GAPS = "forecast-no-gaps"
    FEW_FAILURES = "forecast-few-failures"
    NOT_BY_HUB = "forecast-not-hub-by-hub"
    CURRENCIES = "forecast-several-currencies"
    AS_KNOWN_THEN = "expected-as-known-then"
    AT_THE_RATE_BEFORE = "expected-at-the-rate-before"
