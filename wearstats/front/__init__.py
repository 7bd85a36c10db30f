"""The front door for Python: a store opened on a day, questions as its methods, answers that show themselves."""

from wearstats.front.answer import Answer
from wearstats.front.shop import Shop, open_store

__all__ = ["Answer", "Shop", "open_store"]
