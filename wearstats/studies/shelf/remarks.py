"""What is to be done about the shelf."""

from enum import StrEnum


class ShelfVerdict(StrEnum):
    """What comes first."""

    OVERDUE = "shelf-loan-overdue"
    COUNTED_FEWER = "shelf-counted-fewer"
    COUNTED_MORE = "shelf-counted-more"
    TO_GAUGE = "shelf-hubs-to-gauge"
    UNDATED = "shelf-loans-without-a-day"
    DUE_NEXT = "shelf-loan-due-next"
    IN_ORDER = "shelf-in-order"
