"""The places of the page: one module each, with its addresses."""
