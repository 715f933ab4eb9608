"""An invented club: the files that its members would have written. Nothing here is real."""
