"""What is printed at true size or to be filled in: worksheet, order sheet, brake template, cut patterns."""
