"""What a new plug-in starts from: real ones of each kind that run, checked like any other, with the words of their author left open."""
