"""The coach's word: reviews of findings, edits and approval of a recap, agreement with the service.

Domain only, as the rest of :mod:`service.lessons`.
"""
