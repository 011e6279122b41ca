"""The press: a template of our own and data become a PDF or a picture. It knows nothing of what a paper is about."""
