"""What an answer is made of, and what a request asks.

An answer is a frozen dataclass whose quantities carry their kind and label once. JSON, schema,
table rows and ranges all follow from the class. A request is one whose fields carry
what a person is asked. No physics, no printing here.
"""

from sweatline.answers.answer import Answer
from sweatline.answers.fields import Hidden, Q, Quantity, Shown, quantities_of, to_json
from sweatline.answers.note import Amount, Note, told
from sweatline.answers.questions import (
    Question,
    ask,
    error_of,
    need,
    questions_of,
    record_of,
    request_of,
)
from sweatline.answers.range import Range, Row, range_of, ranges_of, rows_of
from sweatline.units.kinds import Kind

__all__ = [
    "Amount",
    "Answer",
    "Hidden",
    "Kind",
    "Note",
    "Q",
    "Quantity",
    "Question",
    "Range",
    "Row",
    "Shown",
    "ask",
    "error_of",
    "need",
    "quantities_of",
    "questions_of",
    "range_of",
    "ranges_of",
    "record_of",
    "request_of",
    "rows_of",
    "to_json",
    "told",
]
