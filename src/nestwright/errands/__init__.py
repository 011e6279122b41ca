"""What both faces ask for in the same way: files and the record are read, a heart is called; nothing is printed."""
