"""What cairocffi comes to where there is no cairo library, in the words of its own error."""

raise OSError('no library called "cairo-2" was found')
