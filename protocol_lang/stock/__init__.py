"""What is used up: per visit, session and period; what goes where as waste; what has to come back.

``turns`` takes apart what a file tells; ``counting`` counts the pieces of each way a visit can go;
``ranges`` tells from the least to the most, and on which choices it depends; ``mix`` reads shares of
visits; ``demand`` makes an order of them; ``cycle`` goes through days of a steriliser; ``account``
puts all of it together. What each number means: docs/meaning/stock.md.
"""







