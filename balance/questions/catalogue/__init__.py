"""What a plan may use, with its losses and where they come from."""

from balance.questions.catalogue.answer import Catalogue
from balance.questions.catalogue.question import catalogue

__all__ = ["Catalogue", "catalogue"]
