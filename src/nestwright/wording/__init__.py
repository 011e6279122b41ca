"""Figures and results in words, as the commands and the page both tell them; knows results, and no face."""
