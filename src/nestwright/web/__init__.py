"""The page: one local web application that shows the same results as the commands."""
