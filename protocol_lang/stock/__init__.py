"""What is used up: per visit, session and period; what goes where as waste; what has to come back.

``turns`` takes apart what a file tells; ``counting`` counts the pieces of each way a visit can go;
``ranges`` tells from the least to the most, and on which choices it depends; ``asked`` knows the
numbers that no step tells; ``mix`` reads shares of visits; ``demand`` makes an order of them;
``cycle`` goes through days of a steriliser, and ``needed`` asks it how many things are enough;
``account`` puts all of it together. What each number means: docs/meaning/stock.md.
"""

from protocol_lang.stock.account import account_of
from protocol_lang.stock.asked import Asked
from protocol_lang.stock.faults import CannotCount

__all__ = ["Asked", "CannotCount", "account_of"]
