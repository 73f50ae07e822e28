"""What an answer is made of.

An answer is a frozen dataclass whose quantities carry their kind and label once. JSON, schema,
table rows and ranges all follow from the class. No physics, no printing, no units of display here.
"""

from sweatline.answers.answer import Answer
from sweatline.answers.fields import Hidden, Q, Quantity, Shown, quantities_of, to_json
from sweatline.answers.note import Amount, Note, told
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
    "Range",
    "Row",
    "Shown",
    "quantities_of",
    "range_of",
    "ranges_of",
    "rows_of",
    "to_json",
    "told",
]
