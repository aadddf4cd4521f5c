"""What is printed or handed on, made from what acts return: pages, labels, tables, pictures."""
