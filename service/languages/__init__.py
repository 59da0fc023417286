"""Languages: what the service says to players, with dates, numbers and plurals of a place.

English stands in the code, where it is said; every other language is one file, ``CODE.po``
beside this one, read by gettext. What a file leaves out is said in English.
"""

from service.languages.accepted import best_accepted
from service.languages.language import CODES, ENGLISH, Language, language, sayable

__all__ = ["CODES", "ENGLISH", "Language", "best_accepted", "language", "sayable"]
