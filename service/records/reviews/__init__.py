"""What coaches say, kept: reviews of findings, edits of recaps and their approval.

The repositories are :mod:`~service.records.reviews.findings`,
:mod:`~service.records.reviews.recap_edits` and :mod:`~service.records.reviews.recap_approvals`.
"""
