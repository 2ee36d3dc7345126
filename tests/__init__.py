"""The tests of the program; each folder is a room or a subject."""
